"""Designing backwards: from how a blend should fade to the drops that come nearest.

A search over whole drops, bounded and without chance: drops move from oil to oil, first several
at a time, then singly, as long as the wishes come nearer. It finds a good blend and reports how
near it came; it does not prove that there is none better.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.fading import Hours, read_hours, table_of
from blendkit.evaporation.forecast import forecast
from blendkit.evaporation.targets import Trial, Wish
from blendkit.evaporation.wear import Film, film_of
from blendkit.foundation.errors import BadNumber, Problem, near_miss, quoted, refuse_any
from blendkit.foundation.units import counted
from blendkit.materials import catalogue

Drops = dict[str, int]

MOST_TRIALS = 600
_PRICE = 0.02  # of moving all drops, as a miss: of two blends alike, the nearer one


@dataclass(frozen=True)
class Design:
    """Result of a search.

    Attributes
    ----------
    blend : Blend
        Every count fixed by ``drops``; an oil taken out stays in the list with 0 drops.
    misses : tuple of float
        How far each wish was missed, in the wishes' order; 0 where met. [-]
    allowed : bool
        Whether the blend passed the check that was handed in; True where there was none.
    sentences : tuple of str
        How near it came, for people.
    trials : int
        Blends that were tried.
    """

    blend: Blend
    misses: tuple[float, ...]
    allowed: bool
    sentences: tuple[str, ...]
    trials: int


def design(
    blend: Blend,
    wishes: Sequence[Wish],
    *,
    allowed: Callable[[Blend], bool] | None = None,
    conditions: Conditions | None = None,
    heard: Callable[[Film], Film] | None = None,
    most_trials: int = MOST_TRIALS,
) -> Design:
    """The drops near a blend's own that come nearest to some wishes.

    Parameters
    ----------
    blend : Blend
        Where to start; its total of drops and every oil that has one are kept.
    wishes : sequence of Leads, Share or SameFade
    allowed : callable, optional
        Says whether a blend may be mixed at all, such as a check of skin limits.
    conditions : Conditions, optional
    heard : callable, optional
        From a film to the same film as a nose smells it, as `choosing.loudness.Nose.heard`; by
        published curves where left out.
    most_trials : int, optional

    Returns
    -------
    Design

    Raises
    ------
    BadNumber
        No wish, or one that speaks of nothing in this blend.
    """
    refuse_any(
        [problem for wish in wishes for problem in wish.problems(blend)]
        if wishes
        else [Problem("wishes", "nothing", "at least one wish")]
    )
    search = _Search(blend, wishes, allowed, conditions or Conditions(), heard, most_trials)
    here = dict(blend.oil_drops)
    floor = {name: int(drops > 0) for name, drops in here.items()}
    best = search.score(here)
    step = max(1, sum(here.values()) // 8)
    while step >= 0 and search.left > 0:
        nearby = _moves(here, floor, step) if step else _double_moves(here, floor, search.left)
        tried = [(search.score(drops), drops) for drops in nearby]
        nearest = min(tried, key=lambda pair: pair[0], default=(best, here))
        if nearest[0] < best:
            best, here, step = *nearest, max(step, 1)
        else:
            step = step // 2 if step else -1
    return search.result(here)


def _double_moves(here: Drops, floor: Drops, most: int) -> list[Drops]:
    """Every blend two single moves away, or none where there are more than may be tried.

    Strength is that of the strongest molecule: it has kinks that one move may not cross.
    """
    once = _moves(here, floor, 1)
    found = {tuple(twice.values()): twice for one in once for twice in _moves(one, floor, 1)}
    return list(found.values()) if len(found) <= most else []


def _moves(here: Drops, floor: Drops, step: int) -> Iterator[Drops]:
    """Every blend that is `step` drops of one oil away, changed for another's."""
    for giver, drops in here.items():
        if drops - step >= floor[giver]:
            for taker in here:
                if taker != giver:
                    yield {**here, giver: drops - step, taker: here[taker] + step}


@dataclass
class _Search:
    blend: Blend
    wishes: Sequence[Wish]
    allowed: Callable[[Blend], bool] | None
    conditions: Conditions
    heard: Callable[[Film], Film] | None
    most_trials: int
    known: dict[tuple[int, ...], tuple[int, float]] = field(default_factory=dict)

    @property
    def left(self) -> int:
        """Trials left."""
        return self.most_trials - len(self.known)

    def trial(self, drops: Drops) -> tuple[Blend, Trial]:
        blend = self.blend.with_(drops=drops)
        hours = sorted({hour for wish in self.wishes for hour in wish.hours})
        return blend, Trial(film_of(blend.bottle, self.conditions), hours, self.heard)

    def score(self, drops: Drops) -> tuple[int, float]:
        """Rank of a candidate: forbidden or not, then its distance; lower is better."""
        key = tuple(drops.values())
        if key not in self.known:
            if self.left <= 0:
                return (2, math.inf)
            blend, trial = self.trial(drops)
            forbidden = self.allowed is not None and not self.allowed(blend)
            miss = math.sqrt(sum(wish.miss(trial) ** 2 for wish in self.wishes))
            price = _PRICE * self.moved(drops) / sum(key)
            self.known[key] = (int(forbidden), miss + price)
        return self.known[key]

    def moved(self, drops: Drops) -> int:
        return sum(abs(drops[name] - self.blend.oil_drops[name]) for name in drops) // 2

    def result(self, drops: Drops) -> Design:
        blend, trial = self.trial(drops)
        fits = self.score(drops)[0] == 0
        reports = [wish.report(trial) for wish in self.wishes]
        moved = self.blend.count_in_words(self.moved(drops))
        lines = [f"{moved} changed for another oil's."]
        lines += [f"{line[0].upper()}{line[1:]}." for line in reports]
        if not fits:
            lines.append("No blend that may be mixed was found on the way: change the oils.")
        lines.append(f"{counted(len(self.known), 'blend')} tried; there may be a nearer one.")
        misses = tuple(wish.miss(trial) for wish in self.wishes)
        return Design(blend, misses, fits, tuple(lines), len(self.known))


def without(blend: Blend, oil_id: str) -> Blend:
    """A blend without one oil, its drops given to the others of its note, or else to all.

    Parameters
    ----------
    blend : Blend
    oil_id : str
        The oil that goes.

    Raises
    ------
    BadNumber
        The oil is not in the blend, or nothing is left to take its drops.
    """
    drops = dict(blend.oil_drops)
    if oil_id not in drops:
        hint = near_miss(oil_id, drops)
        raise BadNumber([Problem("oil", quoted(oil_id), "an oil of this blend", hint)])
    notes = {part.oil.id: part.note for part in blend.oils}
    note, freed = notes.pop(oil_id), drops.pop(oil_id)
    takers = [name for name, of in notes.items() if of == note] or list(notes)
    if not takers:
        needed = "another oil to take its drops"
        raise BadNumber([Problem("oil", f"{quoted(oil_id)}, the only one", needed)])
    for place, name in enumerate(takers):
        drops[name] += freed // len(takers) + (place < freed % len(takers))
    entries = [entry for entry in blend.to_dict()["oils"] if entry["id"] != oil_id]
    parts = {name: parts for name, parts in blend.note_parts.items() if name in notes.values()}
    return blend.with_(oils=entries, note_parts=parts, drops=drops)


def with_more_oils(blend: Blend, more_oils: Sequence[str]) -> Blend:
    """A blend with its drops fixed, and further oils at 0 drops, each in its usual note."""
    new = [catalogue.oil(n) for n in dict.fromkeys(more_oils) if n not in blend.oil_drops]
    oils = [*blend.to_dict()["oils"], *({"id": oil.id, "note": oil.note} for oil in new)]
    notes = {**dict.fromkeys((oil.note for oil in new), 1), **blend.note_parts}
    drops = {**blend.oil_drops, **dict.fromkeys((oil.id for oil in new), 0)}
    return blend.with_(oils=oils, note_parts=notes, drops=drops)


def compare_fades(
    blends: Mapping[str, BlendLike],
    conditions: Mapping[str, Conditions] | None = None,
    hours: Hours = 12,
    draws: int = 256,
) -> pd.DataFrame:
    """Fades side by side: every blend under every set of conditions.

    Parameters
    ----------
    blends : mapping of str to Blend, document, or path
        By the name to show.
    conditions : mapping of str to Conditions, optional
        By the name to show; as usual indoors where left out.
    hours : float, text, pint Quantity or timedelta, optional
        As for `fade`. [h]
    draws : int, optional
        Of the uncertain figures, for the band.

    Returns
    -------
    DataFrame
        As `evaporation.fade.fade`, with ``blend`` and ``conditions`` in front and, at the end,
        ``strength_beside_first``: beside the start of the same group in the first blend under
        the first conditions, NaN where it is not in there. One wearer, one nose: so here
        strengths of different blends may be set side by side.

    Raises
    ------
    BadNumber
        No blend.
    """
    conditions = conditions or {"indoors": Conditions()}
    frames = []
    first: dict[str, float] = {}
    for name, blend in blends.items():
        filling = as_blend(blend).bottle
        for worn, given in conditions.items():
            found = forecast(film_of(filling, given), read_hours(hours), draws)
            first = first or dict(zip(found.groups, found.levels[:, 0], strict=True))
            beside = np.array([first.get(group, math.nan) for group in found.groups])
            frame = table_of(found)
            frame["strength_beside_first"] = (found.levels / beside[:, None]).ravel()
            frame.insert(0, "conditions", worn)
            frame.insert(0, "blend", name)
            frames.append(frame)
    if not frames:
        raise BadNumber([Problem("blends", "nothing", "at least one blend")])
    return pd.concat(frames, ignore_index=True)
