"""The nearest blend within the limits, proved to be the nearest.

Every limit is linear in the mass fractions, and the mass of a bottle that is filled up with
carrier is linear in its whole drops. So each limit is one linear inequality in whole numbers,
and the fewest drops to move is an integer programme, which HiGHS solves to proven optimality.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from blendkit.blend.apportionment import Entry, drops_by_note
from blendkit.blend.blend import Blend, carrier_density_kg_per_m3
from blendkit.blend.drops import fill
from blendkit.foundation.errors import (
    BadNumber,
    BlendkitError,
    Problem,
    Refused,
    near_miss,
    quoted,
)
from blendkit.foundation.units import ML_PER_M3, counted, show
from blendkit.materials import catalogue
from blendkit.skin import check
from blendkit.skin.limits import VERDICTS, Rule
from blendkit.skin.nearest import Counts, FloatArray, Task, nearest_drops, nearest_miss

KEEP = (None, "total", "ratio", "both")
GENTLER_KINDS: Mapping[str, str] = MappingProxyType(
    {"bergamot": "bergamot-fcf", "lime-expressed": "lime-distilled"}
)
_LEEWAYS = (5e-10, -1e-8, -1e-6)  # the first is half of what Rule.verdict takes for rounding
_ABOUT_KG_PER_M3 = 900.0  # only to bring the limits' rows to the size of a share


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
        What to do and what binds, for people.
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
        return fill(self.blend).strength_got * 100


class _Bench:
    """A blend's oils as arrays, beside the rules that judge them."""

    def __init__(self, blend: Blend, rules: Sequence[Rule], gentler: Mapping[str, str]) -> None:
        note = {part.oil.id: part.note for part in blend.oils}
        for source, target in gentler.items():
            note.setdefault(target, note[source])
        # few drops first, so that ties spare them; never by place in the document
        self.ids = sorted(note, key=lambda name: (blend.oil_drops.get(name, 0), name))
        self.blend, self.rules, self.gentler = blend, rules, gentler
        self.names = [catalogue.oil(name).name for name in self.ids]
        self.notes = tuple(note[name] for name in self.ids)
        self.drops: Counts = np.array([blend.oil_drops.get(name, 0) for name in self.ids])
        per_m3 = np.array([blend.drops_per_ml_of(name) for name in self.ids]) * ML_PER_M3
        self.drop_m3: FloatArray = 1 / per_m3
        density = [catalogue.oil(name).density_kg_per_m3 for name in self.ids]
        self.drop_kg: FloatArray = self.drop_m3 * density
        self.filler = carrier_density_kg_per_m3(blend.carriers) if blend.carriers else 0.0
        share = self.drop_m3 / blend.liquid_m3
        filled = float(share @ self.drops)
        # carrier takes what room is left; without one the oils must go on filling the bottle
        self.walls: FloatArray = np.array([share] if self.filler else [share, -share])
        room = [max(filled, 1.0)] if self.filler else [filled, -filled]
        self.room: FloatArray = np.array(room) + _LEEWAYS[0]

    def mass_fractions(self, drops: Counts) -> dict[str, float]:
        masses_kg = drops * self.drop_kg
        rest_m3 = max(self.blend.liquid_m3 - float(self.drop_m3 @ drops), 0.0)
        fractions = masses_kg / (masses_kg.sum() + rest_m3 * self.filler)
        return dict(zip(self.ids, fractions.tolist(), strict=True))

    def over(self, drops: Counts) -> list[Rule]:
        fractions = self.mass_fractions(drops)
        return [rule for rule in self.rules if rule.verdict(fractions) == VERDICTS["over"]]

    def inequalities(self, leeway: float) -> tuple[FloatArray, FloatArray]:
        """Each limit, eased by `leeway`, as shares used by a drop; then the room for liquid."""
        limits = [rule for rule in self.rules if rule.ceiling is not None]
        weights = [[rule.weights.get(name, 0.0) for name in self.ids] for rule in limits]
        counted_kg = np.array(weights).reshape(-1, len(self.ids)) * self.drop_kg
        ceilings = np.array([[rule.ceiling] for rule in limits], float).reshape(-1, 1)
        ceilings *= 1 + leeway
        room_m3 = self.blend.liquid_m3
        rows = counted_kg - ceilings * (self.drop_kg - self.drop_m3 * self.filler)
        unit = ceilings * room_m3 * _ABOUT_KG_PER_M3
        unit = np.where(unit > 0, unit, counted_kg.max(axis=1, keepdims=True, initial=1e-12))
        right = (ceilings * room_m3 * self.filler / unit)[:, 0]
        return np.vstack([rows / unit, self.walls]), np.concatenate([right, self.room])

    def has_room(self, drops: Counts) -> bool:
        return bool((self.walls @ drops <= self.room).all())

    def with_more(self, drops: Counts, place: int, more: int = 1) -> Counts:
        changed = drops.copy()
        changed[place] += more
        return changed

    def make(self, drops: Counts) -> Blend:
        """The blend with these drops, its strength as it then is."""
        counts, known = dict(zip(self.ids, drops.tolist(), strict=True)), self.blend.oil_drops
        document = self.blend.to_dict()
        entries = []
        for entry, part in zip(document["oils"], self.blend.oils, strict=True):
            entries.append({**entry, "drops": counts.pop(part.oil.id)})
            target = self.gentler.get(part.oil.id, part.oil.id)
            if target not in known and counts.get(target):
                entries.append({"id": target, "note": part.note, "drops": counts.pop(target)})
        document["oils"] = entries
        blend = Blend.from_dict(document)
        strength = min(fill(blend).strength_got, 1.0)
        if not self.filler or math.isclose(strength, fill(self.blend).strength_got):
            return blend
        return Blend.from_dict({**document, "strength": f"{show(strength * 100, 5)} %"})

    def binding(
        self, drops: Counts, trials: Mapping[str, Counts]
    ) -> tuple[tuple[str, ...], list[str]]:
        """The rules that a trial would break, by name and in words."""
        words: dict[str, str] = {}
        for trial, more in trials.items():
            for rule in self.over(more):
                used, then = (rule.share(self.mass_fractions(n)) * 100 for n in (drops, more))
                said = f"{show(used)} % of it is used; {trial} would make it {show(then, 5)} %"
                words.setdefault(_name(rule), said if rule.ceiling else "it allows none at all")
        return tuple(words), [f"What binds: {name}; {said}." for name, said in words.items()]


def nearest_within_limits(
    blend: Blend,
    *,
    region: str = "EU",
    use: str = "perfume oil",
    figures: str = "high",
    keep: str | None = None,
    at_least: int = 0,
    swaps: Mapping[str, str] | None = None,
    heed_advice: bool = True,
) -> Blend:
    """The blend with the fewest drops moved that breaks no limit.

    Parameters and errors are those of `reformulate`, which also says what moves and why.
    """
    return reformulate(
        blend,
        region=region,
        use=use,
        figures=figures,
        keep=keep,
        at_least=at_least,
        swaps=swaps,
        heed_advice=heed_advice,
    ).blend


def reformulate(
    blend: Blend,
    *,
    region: str = "EU",
    use: str = "perfume oil",
    figures: str = "high",
    keep: str | None = None,
    at_least: int = 0,
    swaps: Mapping[str, str] | None = None,
    heed_advice: bool = True,
) -> Reformulation:
    """The blend with the fewest drops moved that breaks no limit, and what binds it.

    Parameters
    ----------
    blend : Blend
        Counts fixed by hand may move like any other.
    region, use, figures : str, optional
        As in `blendkit.skin.check.rules_for`.
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
    rules = _rules([*blend.oil_drops, *gentler.values()], region, use, figures, heed_advice)
    bench = _Bench(blend, rules, gentler)
    pairs = tuple((bench.ids.index(old), bench.ids.index(new)) for old, new in gentler.items())
    fewest = math.inf
    for leeway in _LEEWAYS:
        rows, right = bench.inequalities(leeway)
        task = Task(bench.drops, rows, right, bench.notes, keep, at_least, pairs)
        found = nearest_drops(task)
        if found is None:
            miss = nearest_miss(task, len(rows) - len(bench.walls))
            raise Infeasible(_obstacles(bench, miss, _ways_out(bench, keep, at_least)))
        drops, swapped, moved = found
        fewest = min(fewest, moved)
        if not bench.over(drops):
            break
    else:
        raise BlendkitError("The search found only blends that are over a limit by rounding.")
    lowered = [place for place, now in enumerate(bench.drops) if drops[place] < now]
    trials = {f"one drop more of {bench.names[p]}": bench.with_more(drops, p) for p in lowered}
    binding, why = bench.binding(drops, trials)
    words = _moves(bench, drops, swapped)
    if moved and moved == fewest:
        words.append(f"No blend within these limits moves fewer than {counted(moved, 'drop')}.")
    words += [*why, *_silences(bench, drops)]
    return Reformulation(bench.make(drops), moved, binding, tuple(words), moved == fewest)


def strongest_within_limits(
    blend: Blend,
    *,
    region: str = "EU",
    use: str = "perfume oil",
    figures: str = "high",
    heed_advice: bool = True,
) -> Reformulation:
    """The largest total of drops at which the blend's ratio breaks no limit.

    The drops of each total are shared out as a blend document's are; where a count is fixed by
    hand, in proportion to the present drops. An oil that has drops now must keep one, so that
    no ratio passes by losing an oil. Options as in `reformulate`.

    Raises
    ------
    Infeasible
        No total will do; names the limits in the way at the smallest one.
    """
    bench = _Bench(blend, _rules(blend.oil_drops, region, use, figures, heed_advice), {})
    in_ratio = _sharing_out(bench)
    rows, right = bench.inequalities(_LEEWAYS[0])
    # sharing out in two levels gives each oil less than two drops more or less than its share
    used, slack = rows @ (in_ratio(10**9) / 1e9), 3 * np.abs(rows).sum(axis=1)
    most = math.floor(((right + slack)[used > 0] / used[used > 0]).min())
    over = {f"{counted(int(bench.drops.sum()), 'drop')} in all": bench.drops}
    for total in range(most + 1, 0, -1):
        drops = in_ratio(total)
        if bench.has_room(drops) and not ((drops == 0) & (bench.drops > 0)).any():
            if not bench.over(drops):
                break
            over = {f"{counted(total, 'drop')} in all": drops}
    else:
        raise Infeasible(_obstacles(bench, next(iter(over.values())), _ways_out(bench)))
    binding, why = bench.binding(drops, over)
    made = bench.make(drops)
    strength = f"{show(fill(made).strength_got * 100)} % by {blend.strength_basis}"
    words = [f"In this ratio at most {counted(total, 'drop')} of oil, {strength}."]
    words += why or ["The bottle is full before any limit binds."]
    moved = int(np.abs(drops - bench.drops).sum())
    return Reformulation(made, moved, binding, (*words, *_silences(bench, drops)))


def most_drops_of(
    blend: Blend,
    oil_id: str,
    *,
    region: str = "EU",
    use: str = "perfume oil",
    figures: str = "high",
    heed_advice: bool = True,
) -> Reformulation:
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
    if oil_id not in blend.oil_drops or not blend.carriers:
        hint = near_miss(oil_id, blend.oil_drops)
        unknown = Problem("oil", quoted(oil_id), "an oil of this blend", hint)
        no_carrier = Problem("carriers", "nothing", "a carrier to fill up with")
        raise BadNumber([no_carrier if oil_id in blend.oil_drops else unknown])
    rules = _rules(blend.oil_drops, region, use, figures, heed_advice)
    bench = _Bench(blend, rules, {})
    place = bench.ids.index(oil_id)
    without = bench.with_more(bench.drops, place, -bench.drops[place])
    broken = bench.over(without) if without.any() else []
    bench = _Bench(blend, [rule for rule in rules if rule not in broken], {})
    counting = [rule for rule in broken if rule.weights.get(oil_id)]
    if counting:
        bench = _Bench(blend, counting, {})
        raise Infeasible(_obstacles(bench, without, "Lower the other oils that count."))
    rows, right = bench.inequalities(_LEEWAYS[0])
    used, spare = rows[:, place], right - rows @ without
    most = math.floor((spare[used > 0] / used[used > 0]).min() + 1e-9)
    while most and bench.over(bench.with_more(without, place, most)):
        most -= 1
    drops, more = (bench.with_more(without, place, count) for count in (most, most + 1))
    if not drops.any():
        raise Infeasible(_obstacles(bench, more, _ways_out(bench)))
    name = bench.names[place]
    binding, why = bench.binding(drops, {f"one drop more of {name}": more})
    words = [f"Beside the other oils at most {counted(most, 'drop')} of {name}.", *why]
    words += [] if why else ["The bottle is full before any limit binds."]
    words += [f"Broken without it, and left aside here: {_name(rule)}." for rule in broken]
    moved = abs(most - blend.oil_drops[oil_id])
    return Reformulation(bench.make(drops), moved, binding, (*words, *_silences(bench, drops)))


# --- words ---------------------------------------------------------------------------------


def _name(rule: Rule) -> str:
    return f"{rule.rule_set}, {rule.subject}"


def _moves(bench: _Bench, drops: Counts, swapped: Counts) -> list[str]:
    if (drops == bench.drops).all():
        return ["No drop has to move: every limit that has a figure is kept."]
    name = dict(zip(bench.ids, bench.names, strict=True))
    words = [
        f"Change {counted(count, 'drop')} of {name[old]} for {name[new]}."
        for (old, new), count in zip(bench.gentler.items(), swapped, strict=True)
        if count
    ]
    changes = zip(bench.names, bench.drops, drops, strict=True)
    words += [f"{oil}: {was} → {counted(n, 'drop')}." for oil, was, n in changes if was != n]
    by_note = [
        f"{note} {sum(n for n, own in zip(drops, bench.notes, strict=True) if own == note)}"
        for note in dict.fromkeys(bench.notes)
    ]
    total = f"Drops of oil in all: {sum(bench.drops)} → {sum(drops)} ({', '.join(by_note)})."
    return [*words, total]


def _silences(bench: _Bench, drops: Counts) -> list[str]:
    fractions = bench.mass_fractions(drops)
    silent = [rule for rule in bench.rules if rule.ceiling is None and rule.amount(fractions)]
    names = ", ".join(dict.fromkeys(rule.subject for rule in silent))
    return [f"No limit on record, so neither passed nor forbidden: {names}."] if silent else []


def _ways_out(bench: _Bench, keep: str | None = None, at_least: int = 0) -> str:
    ways = [f'Let total or note ratio change (now keep="{keep}").'] if keep else []
    ways += ["Let oils go down to 0 drops (at_least=0)."] if at_least else []
    if not bench.filler:
        ways.append("Add a carrier: without one the oils must go on filling the bottle.")
    return " ".join(ways) or "Take a larger bottle, in which a drop weighs less."


def _obstacles(bench: _Bench, drops: Counts, fix: str) -> list[Problem]:
    """Every limit that is over at these drops, as a problem."""
    fractions, counts = bench.mass_fractions(drops), drops.tolist()
    problems = []
    for rule in bench.over(drops):
        held = [
            f"{counted(count, 'drop')} of {name}"
            for oil, name, count in zip(bench.ids, bench.names, counts, strict=True)
            if count and rule.weights.get(oil)
        ]
        got = f"{show(rule.share(fractions) * 100)} % of the limit with {', '.join(held)}"
        needed = f"at most 100 %, which is {show((rule.ceiling or 0) * 100)} % by mass"
        if rule.kind == "phototoxic sum":
            needed = "at most 100 %"
        way_out = fix
        if not rule.ceiling:
            got, needed, way_out = ", ".join(held), "none at all", "Take another oil instead."
        way_out += "" if rule.decides else " Or leave advice out (heed_advice=False)."
        problems.append(Problem(_name(rule), got, needed, way_out))
    return problems


# --- what is asked -------------------------------------------------------------------------


def _rules(
    oil_ids: Collection[str], region: str, use: str, figures: str, heed_advice: bool
) -> list[Rule]:
    rules = check.rules_for(oil_ids, region, use, figures)
    return [rule for rule in rules if heed_advice or rule.decides or rule.ceiling is None]


def _check_options(keep: object, at_least: object) -> None:
    problems = []
    if keep not in KEEP:
        hint = near_miss(str(keep), ["total", "ratio", "both"])
        problems.append(Problem("keep", quoted(keep), '"total", "ratio", "both" or None', hint))
    if isinstance(at_least, bool) or not isinstance(at_least, int) or at_least < 0:
        problems.append(Problem("at_least", quoted(at_least), "a whole number, 0 or more"))
    if problems:
        raise BadNumber(problems)


def _gentler(blend: Blend, swaps: Mapping[str, str]) -> dict[str, str]:
    """The swaps that this blend's oils allow, by id; own lots go by their oil."""
    pairs = {
        part.oil.id: swaps.get(part.oil.id) or swaps.get(part.oil.based_on)
        for part in blend.oils
    }
    return {old: catalogue.oil(new).id for old, new in pairs.items() if new and new != old}


def _sharing_out(bench: _Bench) -> Callable[[int], Counts]:
    """A function that shares any total out in the blend's ratio."""
    blend = bench.blend
    entries = [Entry(part.oil.id, part.note, part.parts) for part in blend.oils]
    note_parts = blend.note_parts
    if any(part.fixed_drops is not None for part in blend.oils):
        now = blend.oil_drops
        entries = [Entry(p.oil.id, p.note, now[p.oil.id]) for p in blend.oils if now[p.oil.id]]
        note_parts = {
            note: sum(entry.parts for entry in entries if entry.note == note)
            for note in dict.fromkeys(entry.note for entry in entries)
        }

    def share_out(total: int) -> Counts:
        shared = drops_by_note(total, note_parts, entries)
        return np.array([shared.get(name, 0) for name in bench.ids])

    return share_out
