"""Which bottle next: a liking for whole-drop recipes, learnt from sniff duels.

"This one, that one, or cannot tell" of two miniatures is a comparison of two likings
(`choosing.answers`); likings of recipes are a Gaussian process, so that a recipe near a liked
one is likely liked (*Preferential Bayesian optimization*, arXiv 1704.03651, and *Consecutive
preferential Bayesian optimization* with a just-noticeable difference, arXiv 2511.05163;
abstracts read). One side of each duel is the favourite so far, so that a duel costs one new
bottle. `tests/benchmarks/duels_benchmark.py` shows where this is no better than plain designs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from blendkit.blend.blend import Blend
from blendkit.choosing.answers import Belief, settle
from blendkit.choosing.loudness import Counts, FloatArray
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import counted, show
from blendkit.skin import check
from blendkit.skin.counted_bottle import CountedBottle

MOST_RECIPES = 400
# In units of the spread of likings, and of square roots of shares; fixed before any simulation
NOTICED, ERROR, REACH = 0.2, 0.35, 0.35
_DRAWS, _SEED = 512, 1
_SHRUNK = 1e-8
_TRIES = 20  # of random recipes for each one that is kept


class Duel(NamedTuple):
    """One duel: places of two recipes, and which was liked better, as `choosing.answers`."""

    first: int
    second: int
    said: int


@dataclass(frozen=True, eq=False)
class Recipes:
    """Whole-drop recipes to choose from.

    Attributes
    ----------
    oils : tuple of str
    drops : ndarray of int, shape (recipes, oils)
        The first is the one to start from.
    """

    oils: tuple[str, ...]
    drops: Counts

    @property
    def roots(self) -> FloatArray:
        """Square roots of the shares: one drop counts more of few than of many."""
        return np.asarray(np.sqrt(self.drops / self.drops.sum(axis=1, keepdims=True)))


class Next(NamedTuple):
    """Places of the two miniatures of the next duel, and what the second promises beyond."""

    first: int
    second: int
    gain: float

    @property
    def is_enough(self) -> bool:
        """Whether no recipe promises a gain that could be noticed."""
        return self.gain < NOTICED / 2


def recipes_of(
    blend: Blend, total: int, most: int = MOST_RECIPES, seed: int = _SEED
) -> Recipes:
    """Recipes of a blend's oils in some drops that keep every skin limit in its bottle.

    Parameters
    ----------
    blend : Blend
        Its limits are judged in its own bottle, at its own total of drops; its oils have to be
        on the shelf.
    total : int
        Drops of one miniature; each oil may have none.
    most : int, optional
        Where more recipes keep the limits, evenly random ones.
    seed : int, optional

    Raises
    ------
    BadNumber
        The total cannot be used, or the blend itself is over a limit.
    """
    bottle = CountedBottle(blend, check.rules_in(blend), {})
    oils, whole = len(bottle.ids), int(bottle.drops.sum())
    if not 2 <= total <= 200 or oils < 2:
        raise BadNumber([Problem("drops", quoted(total), "2 to 200, of at least two oils")])
    chance = np.random.default_rng(seed)
    # drawn in two levels, every recipe is as likely as any other
    ratios = chance.dirichlet(np.ones(oils), most * _TRIES)
    tried = np.unique(chance.multinomial(total, ratios), axis=0)
    start = np.rint(bottle.drops * total / whole).astype(int)
    start[start.argmax()] += total - start.sum()
    tried = np.vstack([start, tried[(tried != start).any(axis=1)]])
    rows, right = bottle.inequalities(0.0)
    allowed = np.asarray(tried * (whole / total) @ rows.T <= right).all(axis=1)
    kept = np.flatnonzero(allowed)
    if 0 not in kept:
        raise BadNumber([Problem("blend", "one over a limit", "a start within the limits")])
    kept = chance.permutation(kept[kept > 0])[: most - 1]
    return Recipes(tuple(bottle.ids), tried[np.r_[0, np.sort(kept)]])


def liking(recipes: Recipes, duels: Sequence[Duel]) -> Belief:
    """Liking of every recipe after some duels; 0 is the mean of all."""
    roots = recipes.roots
    away = ((roots[:, None] - roots) ** 2).sum(axis=2)
    prior = np.exp(-away / (2 * REACH**2)) + _SHRUNK * np.eye(len(roots))
    first, second, said = np.array(duels, dtype=int).reshape(-1, 3).T
    slopes = np.eye(len(roots))[first] - np.eye(len(roots))[second]
    start = Belief(np.zeros(len(roots)), prior)

    def difference(likings: FloatArray) -> tuple[FloatArray, FloatArray]:
        return slopes @ likings, slopes

    return settle(start, difference, said.tolist(), noticed=NOTICED, error=ERROR)


def favourite(recipes: Recipes, duels: Sequence[Duel]) -> tuple[int, float]:
    """Place of the best-liked recipe that was smelt, and its chance to be the best of those."""
    belief, tried = liking(recipes, duels), _tried(duels)
    best = int(belief.mean[tried].argmax())
    values, ways = np.linalg.eigh(belief.covariance[np.ix_(tried, tried)])
    normal = np.random.default_rng(_SEED).standard_normal((_DRAWS, len(tried)))
    drawn = belief.mean[tried] + normal * np.sqrt(np.maximum(values, 0.0)) @ ways.T
    return tried[best], float(np.mean(drawn.argmax(axis=1) == best))


def next_duel(recipes: Recipes, duels: Sequence[Duel]) -> Next:
    """The favourite so far, and the recipe that promises most beyond it."""
    belief, tried = liking(recipes, duels), _tried(duels)
    first = tried[int(belief.mean[tried].argmax())]
    gains = _gains(belief, first)
    gains[tried] = 0.0
    second = int(gains.argmax())
    return Next(first, second, float(gains[second]))


def surprise(recipes: Recipes, duels: Sequence[Duel]) -> int:
    """The recipe that is least like all that were smelt."""
    roots = recipes.roots
    away = ((roots[:, None] - roots[_tried(duels)]) ** 2).sum(axis=2)
    return int(away.min(axis=1).argmax())


def for_two(recipes: Recipes, one: Sequence[Duel], other: Sequence[Duel]) -> tuple[int, str]:
    """The smelt recipe whose less pleased nose likes it best, and what it means for both.

    Each nose has its own duels and its own liking; neither is averaged into the other.
    """
    beliefs = [liking(recipes, duels) for duels in (one, other)]
    tried = sorted({*_tried(one), *_tried(other)})
    likings = np.array([belief.mean[tried] for belief in beliefs])
    place = int(likings.min(axis=0).argmax())
    own = [int(row.argmax()) for row in likings]
    if own[0] == own[1] == place:
        return tried[place], "Both noses like the same bottle best."
    lost = [show(float(row.max() - row[place]), 2) for row in likings]
    words = f"A middle way: {lost[0]} and {lost[1]} below each nose's own favourite, where "
    return tried[place], f"{words}{show(NOTICED)} is just noticed."


def sentences(recipes: Recipes, duels: Sequence[Duel]) -> list[str]:
    """Where the duels have come to, in words."""
    place, chance = favourite(recipes, duels)
    coming = next_duel(recipes, duels)
    words = [
        f"{counted(len(duels), 'duel')} of {counted(len(_tried(duels)), 'bottle')}: number "
        f"{place + 1} is the best of them with a chance of {round(chance * 100)} %."
    ]
    if coming.is_enough:
        return [*words, "Stop here: no further bottle promises a difference you would notice."]
    return [*words, f"Next: number {coming.first + 1} against number {coming.second + 1}."]


def _tried(duels: Sequence[Duel]) -> list[int]:
    """Places of the recipes that were smelt; the start, before any duel."""
    return sorted({place for duel in duels for place in duel[:2]}) or [0]


def _gains(belief: Belief, first: int) -> FloatArray:
    """Expected improvement of each recipe on one."""
    from scipy.stats import norm

    mean = belief.mean - belief.mean[first]
    spread = belief.covariance.diagonal() + belief.covariance[first, first]
    spread = np.sqrt(np.maximum(spread - 2 * belief.covariance[first], _SHRUNK))
    z = mean / spread
    return np.asarray(mean * norm.cdf(z) + spread * norm.pdf(z))
