"""Which bottle next: a liking for whole-drop recipes, learnt from sniff duels.

"This one, that one, or cannot tell" of two miniatures is a comparison of two likings
(`choosing.answers`); likings of recipes are a Gaussian process, so that a recipe near a liked
one is likely liked (*Preferential Bayesian optimization*, arXiv 1704.03651, and *Consecutive
preferential Bayesian optimization* with a just-noticeable difference, arXiv 2511.05163;
abstracts read). One side of each duel is the favourite so far, so that a duel costs one new
bottle. `tests/benchmarks/duels_benchmark.py` shows where this is no better than plain designs.
"""

import random
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from blendkit.blend.blend import Blend
from blendkit.choosing.answers import SAID, Belief, settle
from blendkit.choosing.loudness import Counts
from blendkit.foundation.blind_codes import CODES, draw_codes
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import FloatArray, counted, is_whole_number, show
from blendkit.skin import check
from blendkit.skin.counted_bottle import CountedBottle

MOST_RECIPES = 400
# In units of the spread of likings, and of square roots of shares; fixed before any simulation
NOTICED, ERROR, REACH = 0.2, 0.35, 0.35
_DRAWS, _SEED = 512, 1
_SHRUNK = 1e-8
_MOST_DROPS = 200  # of a miniature
_TRIES = 20  # of random recipes for each one that is kept


class Duel(NamedTuple):
    """One duel: places of two recipes, and which was liked better, as `choosing.answers`."""

    first: int
    second: int
    said: int


class Recipes(NamedTuple):
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


class Miniature(NamedTuple):
    """A bottle of a duel: its three-digit code, and its whole drops by oil id."""

    code: int
    drops: Mapping[str, int]


class Compared(NamedTuple):
    """A duel as it is kept, apart from any list of recipes."""

    first: Miniature
    second: Miniature
    said: int


class Next(NamedTuple):
    """Places of the two miniatures of the next duel, and what the second promises beyond."""

    first: int
    second: int
    gain: float

    @property
    def is_enough(self) -> bool:
        """Whether no recipe promises a gain that could be noticed."""
        return self.gain < NOTICED / 2


def read_duel(document: Mapping[str, Any]) -> Compared:
    """One duel as it is kept.

    Parameters
    ----------
    document : mapping
        Keys ``first`` and ``second``, each with ``code`` and ``drops`` by oil id, and
        ``better``: "first", "second" or "cannot tell".

    Raises
    ------
    BadNumber
        It is no duel of two recipes of the same oils.
    """
    first, second = (_miniature(document, key) for key in ("first", "second"))
    said = str(document.get("better"))
    if said not in SAID or first.drops.keys() != second.drops.keys():
        needed = f"{', '.join(SAID)}, of two recipes of the same oils"
        raise BadNumber([Problem("better", quoted(said), needed)])
    return Compared(first, second, SAID[said])


def _miniature(document: Mapping[str, Any], key: str) -> Miniature:
    given = document.get(key)
    parts: dict[str, Any] = given if isinstance(given, dict) else {}
    drops = parts.get("drops")
    counts = list(drops.values()) if isinstance(drops, dict) else []
    are_drops = all(is_whole_number(count, 0, _MOST_DROPS) for count in counts)
    if parts.get("code") not in CODES or not are_drops or not any(counts):
        raise BadNumber([Problem(key, quoted(given), "a code, and whole drops of oils")])
    return Miniature(int(parts["code"]), parts["drops"])


def miniature_of(recipes: Recipes, place: int, made: Iterable[Miniature]) -> Miniature:
    """A recipe as a bottle, under its own code where it was made before, else a free one."""
    drops = dict(zip(recipes.oils, recipes.drops[place].tolist(), strict=True))
    known = {each.code: each.drops for each in made}
    own = [code for code, counts in known.items() if counts == drops]
    codes = draw_codes(random.Random(str(sorted(drops.items()))), len(CODES))
    return Miniature(own[0] if own else next(c for c in codes if c not in known), drops)


def recipes_of(
    blend: Blend,
    total: int,
    *,
    made: Iterable[Mapping[str, int]] = (),
    shelf_m3: Mapping[str, float] | None = None,
) -> Recipes:
    """Recipes of a blend's oils in some drops that keep every skin limit in its bottle.

    Parameters
    ----------
    blend : Blend
        Its limits are judged in its own bottle, at its own total of drops.
    total : int
        Drops of one miniature; each oil may have none. Where more than `MOST_RECIPES` keep the
        limits, evenly random ones are taken.
    made : iterable of mapping, optional
        Drops by oil id of miniatures that are there already, of any total. Those of the same
        oils come next to the start, where they keep the limits.
    shelf_m3 : mapping of str to float, optional
        Volumes left of oils by id: no further miniature takes more. [m3]

    Raises
    ------
    BadNumber
        The total cannot be used, or the blend itself is over a limit or more than is left.
    """
    bottle = CountedBottle(blend, check.rules_in(blend), {})
    oils, whole = len(bottle.ids), int(bottle.drops.sum())
    if not is_whole_number(total, 2, _MOST_DROPS) or oils < 2:
        needed = f"a whole number, 2 to {_MOST_DROPS}, of at least two oils"
        raise BadNumber([Problem("drops", quoted(total), needed)])
    chance = np.random.default_rng(_SEED)
    # drawn in two levels, every recipe is as likely as any other
    ratios = chance.dirichlet(np.ones(oils), MOST_RECIPES * _TRIES)
    tried = np.unique(chance.multinomial(total, ratios), axis=0)
    start = np.rint(bottle.drops * total / whole).astype(int)
    start[start.argmax()] += total - start.sum()
    left_m3 = np.array([(shelf_m3 or {}).get(name, np.inf) for name in bottle.ids])
    tried = tried[(tried * bottle.drop_m3 <= left_m3).all(axis=1)]
    same = (each for each in made if each.keys() == set(bottle.ids))
    there = [tuple(each[name] for name in bottle.ids) for each in same]
    known = list(dict.fromkeys([tuple(start.tolist()), *there]))
    tried = np.array(known + [row for row in map(tuple, tried.tolist()) if row not in known])
    rows, right = bottle.inequalities(0.0)
    wholes = tried.sum(axis=1, keepdims=True)
    used = tried * (whole / wholes) @ rows.T
    allowed = np.asarray((used <= right).all(axis=1))
    if not allowed[0]:
        raise BadNumber([Problem("blend", "one over a limit", "a start within the limits")])
    short = np.array(bottle.names)[start * bottle.drop_m3 > left_m3]
    if short.size and known[0] not in there:
        got = f"less {', '.join(short)} than the blend takes"
        raise BadNumber([Problem("shelf", got, "all its oils", "Replace what is out.")])
    first = np.flatnonzero(allowed[: len(known)])
    kept = np.flatnonzero(allowed)
    kept = chance.permutation(kept[kept >= len(known)])[: MOST_RECIPES - len(first)]
    return Recipes(tuple(bottle.ids), tried[np.r_[first, np.sort(kept)]])


def duels_of(recipes: Recipes, compared: Iterable[Compared]) -> list[Duel]:
    """Duels that were kept, as places of these recipes; those of other recipes are left out."""
    places = {tuple(row): place for place, row in enumerate(recipes.drops.tolist())}

    def place(one: Miniature) -> int | None:
        same = one.drops.keys() == set(recipes.oils)
        return places.get(tuple(one.drops[name] for name in recipes.oils)) if same else None

    found = ((place(first), place(second), said) for first, second, said in compared)
    return [Duel(a, b, said) for a, b, said in found if a is not None and b is not None]


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
    return next(iter(chances(recipes, duels).items()))


def chances(recipes: Recipes, duels: Sequence[Duel]) -> dict[int, float]:
    """Chance of each recipe that was smelt to be the best of those, the best-liked first."""
    belief, tried = liking(recipes, duels), _tried(duels)
    values, ways = np.linalg.eigh(belief.covariance[np.ix_(tried, tried)])
    normal = np.random.default_rng(_SEED).standard_normal((_DRAWS, len(tried)))
    drawn = belief.mean[tried] + normal * np.sqrt(np.maximum(values, 0.0)) @ ways.T
    shares = np.bincount(drawn.argmax(axis=1), minlength=len(tried)) / _DRAWS
    by_liking = (-belief.mean[tried]).argsort(kind="stable")
    return {tried[row]: float(shares[row]) for row in by_liking}


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


def sentences(recipes: Recipes, duels: Sequence[Duel], best: str) -> list[str]:
    """Where the duels have come to, in words; `best` names the favourite so far."""
    chance = round(favourite(recipes, duels)[1] * 100)
    words = [
        f"{counted(len(duels), 'duel')} of {counted(len(_tried(duels)), 'bottle')}: {best} is "
        f"the best of them with a chance of {chance} %."
    ] * bool(duels)
    if next_duel(recipes, duels).is_enough:
        return [*words, "Stop here: no further bottle promises a difference you would notice."]
    return words


def _tried(duels: Sequence[Duel]) -> list[int]:
    """Places of the recipes that were smelt; the start, before any duel."""
    return sorted({place for duel in duels for place in duel[:2]}) or [0]


def _gains(belief: Belief, first: int) -> FloatArray:
    """Expected improvement of each recipe on one."""
    from scipy.special import ndtr  # its statistics take a second to import

    mean = belief.mean - belief.mean[first]
    spread = belief.covariance.diagonal() + belief.covariance[first, first]
    spread = np.sqrt(np.maximum(spread - 2 * belief.covariance[first], _SHRUNK))
    z = mean / spread
    return np.asarray(mean * ndtr(z) + spread * np.exp(-z * z / 2) / np.sqrt(2 * np.pi))
