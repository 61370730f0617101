"""The nearest blend within the limits, proved to be the nearest.

Every limit is linear in the mass fractions, and the mass of a bottle that is filled up with
carrier is linear in its whole drops. So each limit is one linear inequality in whole numbers,
and the fewest drops to move is an integer programme, which HiGHS solves to proven optimality.
"""

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from blendkit.blend.apportionment import Claim, drops_by_note
from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.foundation.errors import (
    BadNumber,
    BlendkitError,
    Problem,
    Refused,
    near_miss,
    quoted,
    refuse_any,
)
from blendkit.foundation.units import is_whole_number, show
from blendkit.materials import catalogue
from blendkit.skin import check
from blendkit.skin.counted_bottle import LEEWAYS, CountedBottle, name_of
from blendkit.skin.limits import Rule
from blendkit.skin.nearest import Counts, Task, nearest_drops, nearest_miss
from blendkit.skin.verdict import gaps

KEEP = (None, "total", "ratio", "both")
GENTLER_KINDS: Mapping[str, str] = MappingProxyType(
    {"bergamot": "bergamot-fcf", "lime-expressed": "lime-distilled"}
)


class Infeasible(Refused):
    """No blend within the limits can be had; each problem names a limit in the way."""

    heading = "No blend within the limits can be had this way"


@dataclass(frozen=True)
class Reformulation:
    """A blend within the limits, and how it came about.

    Attributes
    ----------
    blend : Blend
        Every count fixed by ``drops``; an oil taken out stays in the list with 0 drops.
    moved : int
        Drops taken out, put in, or changed for a drop of a gentler kind.
    binding : tuple of str
        The limits that one drop more would break: of an oil that was lowered, of the whole
        ratio, or of the oil asked for.
    sentences : tuple of str
        What to do and what sets the limit, for people.
    optimal : bool
        True where it is proved that no blend within the limits does better.
    """

    blend: Blend
    moved: int
    binding: tuple[str, ...]
    sentences: tuple[str, ...]
    optimal: bool = True

    @property
    def strength_percent(self) -> float:
        """Strength on the blend's own basis. [%]"""
        return self.blend.bottle.actual_strength * 100


def nearest_within_limits(
    blend: BlendLike,
    *,
    region: str | None = None,
    use: str | None = None,
    keep: str | None = None,
    at_least: int = 0,
    swaps: Mapping[str, str] | None = None,
    heed_advice: bool = True,
) -> Blend:
    """The blend with the fewest drops moved that breaks no limit.

    Takes a blend, document, or path, and a region and use as in
    `blendkit.skin.check.skin_findings`; the blend that is found is for that market. The other
    parameters and errors are those of `reformulate`, which also says what moves and why.
    """
    blend = as_blend(blend)
    market = blend.market.with_(region, use)
    blend = blend if market == blend.market else blend.with_(market=market)
    asked = {"keep": keep, "at_least": at_least, "swaps": swaps, "heed_advice": heed_advice}
    return reformulate(blend, **asked).blend  # type: ignore[arg-type]


def reformulate(
    blend: Blend,
    *,
    keep: str | None = None,
    at_least: int = 0,
    swaps: Mapping[str, str] | None = None,
    heed_advice: bool = True,
) -> Reformulation:
    """The blend with the fewest drops moved that breaks no limit, and what sets the limit.

    Parameters
    ----------
    blend : Blend
        Counts fixed by hand may move like any other.
    keep : str, optional
        "total", "ratio" or "both"; see `Task`. Left out, total and note ratio are kept only
        where that moves no more drops.
    at_least : int, optional
        Drops that every oil keeps, where it has as many now.
    swaps : mapping of str to str, optional
        Oil ids and the gentler kind each may be changed for, such as `GENTLER_KINDS`. An own
        lot goes by its oil. A drop changed counts as one drop moved.
    heed_advice : bool, optional
        Whether advice, such as a handbook's, counts like a law.

    Raises
    ------
    Infeasible
        No such blend exists; names the limits in the way.
    BadNumber
        An option that means nothing.

    Notes
    -----
    `nearest_drops` says how ties are broken. The drops found are judged once more by
    `Rule.verdict`, because the solver rounds.
    """
    _check_options(keep, at_least)
    gentler = _gentler(blend, swaps or {})
    bottle = CountedBottle(blend, _rules(blend, gentler.values(), heed_advice), gentler)
    pairs = tuple(
        (bottle.ids.index(old), bottle.ids.index(new)) for old, new in gentler.items()
    )
    fewest = math.inf
    for leeway in LEEWAYS:
        rows, right = bottle.inequalities(leeway)
        task = Task(bottle.drops, rows, right, bottle.notes, keep, at_least, pairs)
        found = nearest_drops(task)
        if found is None:
            miss = nearest_miss(task, len(rows) - len(bottle.walls))
            raise Infeasible(bottle.obstacles(miss, bottle.ways_out(keep, at_least)))
        drops, swapped, moved = found
        fewest = min(fewest, moved)
        if not bottle.over(drops):
            break
    else:
        raise BlendkitError("The search found only blends that are over a limit by rounding.")
    lowered = [place for place, now in enumerate(bottle.drops) if drops[place] < now]
    trials = {bottle.one_more(p): bottle.with_more(drops, p) for p in lowered}
    words = bottle.moves_in_words(drops, swapped)
    if moved and moved == fewest:
        least = blend.count_in_words(moved)
        words.append(f"No blend within these limits moves fewer than {least}.")
    binding, why = bottle.binding(drops, trials)
    made = bottle.make(drops)
    return Reformulation(made, moved, binding, (*words, *why, *gaps(made)), moved == fewest)


def strongest_within_limits(blend: Blend, *, heed_advice: bool = True) -> Reformulation:
    """The largest total of drops at which the blend's ratio breaks no limit.

    The drops of each total are shared out as a blend document's are; where a count is fixed by
    hand, in proportion to the present drops. An oil that has drops now must keep one, so that
    no ratio passes by losing an oil. Options as in `reformulate`.

    Raises
    ------
    Infeasible
        No total will do; names the limits in the way at the smallest one.
    """
    bottle = CountedBottle(blend, _rules(blend, (), heed_advice), {})
    in_ratio = _sharing_out(bottle)
    rows, right = bottle.inequalities(LEEWAYS[0])
    # sharing out in two levels gives each oil less than two drops more or less than its share
    used, slack = rows @ (in_ratio(10**9) / 1e9), 3 * np.abs(rows).sum(axis=1)
    most = math.floor(((right + slack)[used > 0] / used[used > 0]).min())
    over = {f"{blend.count_in_words(int(bottle.drops.sum()))} in all": bottle.drops}
    for total in range(most + 1, 0, -1):
        drops = in_ratio(total)
        if bottle.has_room(drops) and not ((drops == 0) & (bottle.drops > 0)).any():
            if not bottle.over(drops):
                break
            over = {f"{blend.count_in_words(total)} in all": drops}
    else:
        raise Infeasible(bottle.obstacles(next(iter(over.values())), bottle.ways_out()))
    made = bottle.make(drops)
    strength = f"{show(made.bottle.actual_strength * 100)} % by {blend.strength_basis}"
    first = f"In this ratio at most {blend.count_in_words(total)} of oil, {strength}."
    return _at_most(bottle, drops, made, first, over)


def most_drops_of(blend: Blend, oil_id: str, *, heed_advice: bool = True) -> Reformulation:
    """The most drops of one oil that fit, with the other oils held as they are.

    Limits that the others break without it, and that do not count it, are named and left
    aside. Options as in `reformulate`; the count is in ``blend.oil_drops`` of what comes back.

    Raises
    ------
    Infeasible
        Not even none of it will do: the others alone break a limit that counts it.
    BadNumber
        The oil is not in the blend, or there is no carrier to make room for it.
    """
    if oil_id not in blend.oil_drops:
        hint = near_miss(oil_id, blend.oil_drops)
        raise BadNumber([Problem("oil", quoted(oil_id), "an oil of this blend", hint)])
    if not blend.carriers:
        raise BadNumber([Problem("carriers", "nothing", "a carrier to fill up with")])
    rules = _rules(blend, (), heed_advice)
    bottle = CountedBottle(blend, rules, {})
    place = bottle.ids.index(oil_id)
    without = bottle.with_more(bottle.drops, place, -bottle.drops[place])
    broken = bottle.over(without) if without.any() else []
    if counting := [rule for rule in broken if catalogue.fold(rule.binding, oil_id)]:
        bottle.rules = counting
        raise Infeasible(bottle.obstacles(without, "Lower the other oils that count."))
    bottle.rules = [rule for rule in rules if rule not in broken]
    rows, right = bottle.inequalities(LEEWAYS[0])
    used, spare = rows[:, place], right - rows @ without
    most = math.floor((spare[used > 0] / used[used > 0]).min() + 1e-9)
    while most and bottle.over(bottle.with_more(without, place, most)):
        most -= 1
    drops, more = (bottle.with_more(without, place, count) for count in (most, most + 1))
    if not drops.any():
        raise Infeasible(bottle.obstacles(more, bottle.ways_out()))
    first = f"Beside the other oils at most {blend.count_in_words(most)} of "
    first += f"{bottle.names[place]}."
    left = [f"Broken without it, and left aside here: {name_of(rule)}." for rule in broken]
    trial = {bottle.one_more(place): more}
    return _at_most(bottle, drops, bottle.make(drops), first, trial, left)


def _at_most(
    bottle: CountedBottle,
    drops: Counts,
    made: Blend,
    first: str,
    trial: Mapping[str, Counts],
    last: Sequence[str] = (),
) -> Reformulation:
    """The most drops there can be, and what forbids a trial of more."""
    binding, why = bottle.binding(drops, trial)
    why = why or ["The bottle is full before any limit is reached."]
    moved = int(np.abs(drops - bottle.drops).sum())
    return Reformulation(made, moved, binding, (first, *why, *last, *gaps(made)))


# --- what is asked -------------------------------------------------------------------------


def _rules(blend: Blend, gentler: Collection[str], with_advice: bool) -> list[Rule]:
    rules = check.rules_in(blend, among=gentler)
    return [rule for rule in rules if with_advice or rule.decides or rule.ceiling is None]


def _check_options(keep: object, at_least: object) -> None:
    problems = []
    if keep not in KEEP:
        hint = near_miss(keep, ["total", "ratio", "both"])
        problems.append(Problem("keep", quoted(keep), '"total", "ratio", "both" or None', hint))
    if not is_whole_number(at_least):
        problems.append(Problem("at_least", quoted(at_least), "a whole number, 0 or more"))
    refuse_any(problems)


def _gentler(blend: Blend, swaps: Mapping[str, str]) -> dict[str, str]:
    """The swaps that this blend's oils allow, by id; own lots go by their oil."""
    pairs = {
        part.oil.id: swaps.get(part.oil.id) or swaps.get(part.oil.based_on)
        for part in blend.oils
    }
    return {old: catalogue.oil(new).id for old, new in pairs.items() if new and new != old}


def _sharing_out(bottle: CountedBottle) -> Callable[[int], Counts]:
    """A function that shares any total out in the blend's ratio."""
    blend = bottle.blend
    entries = [Claim(part.oil.id, part.note, part.parts) for part in blend.oils]
    note_parts = blend.note_parts
    if any(part.fixed_drops is not None for part in blend.oils):
        now = blend.oil_drops
        entries = [Claim(p.oil.id, p.note, now[p.oil.id]) for p in blend.oils if now[p.oil.id]]
        note_parts = {
            note: sum(entry.parts for entry in entries if entry.note == note)
            for note in dict.fromkeys(entry.note for entry in entries)
        }

    def share_out(total: int) -> Counts:
        shared = drops_by_note(total, note_parts, entries)
        return np.array([shared.get(name, 0) for name in bottle.ids])

    return share_out
