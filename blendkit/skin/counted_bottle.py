"""A bottle counted in whole drops, and the limits as inequalities in those counts.

The bottle is filled up with carrier, so its mass is linear in its drops, and every limit on a
mass fraction is one linear inequality. `reformulation` searches among the counts; the words
for what it finds are here too.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from blendkit.blend.blend import Blend
from blendkit.blend.counts import carrier_density_kg_per_m3
from blendkit.foundation.errors import Problem, attempt
from blendkit.foundation.units import ML_PER_M3, show
from blendkit.materials import catalogue
from blendkit.materials.catalogue import fold, unfold
from blendkit.skin.limits import UNMATCHED, Rule
from blendkit.skin.nearest import Counts, FloatArray

LEEWAYS = (5e-10, -1e-8, -1e-6)  # the first is half of what Rule.verdict takes for rounding
_ABOUT_KG_PER_M3 = 900.0  # only to bring the limits' rows to the size of a share


class CountedBottle:
    """A blend's oils as arrays, beside the rules that judge them.

    Parameters
    ----------
    blend : Blend
    rules : sequence of Rule
        Limits for its oils and for the gentler kinds.
    gentler : mapping of str to str
        Oil ids and the kind each may be changed for.

    Attributes
    ----------
    ids, names, notes : sequence of str, length n
        The oils that have drops or may get some.
    drops : array of int, shape (n,)
        The present counts.
    filler : float
        Density of the carriers that fill the bottle up; 0 without any. [kg/m3]
    walls : array, shape (1 or 2, n)
        Room in the bottle that one drop takes, as inequalities.
    """

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
        whole = sum(part.parts for part in blend.carriers)
        self.poured = {  # by mass in one m3 of them; an infusion may hold oils of its own
            part.carrier.id: part.parts / whole * part.carrier.density_kg_per_m3
            for part in blend.carriers
        }
        self.liquid_m3 = blend.liquid_m3
        if blend.make_kg and self.filler:  # a mass to make: what is put in replaces its mass
            self.drop_m3 = self.drop_kg / self.filler
            self.liquid_m3 = blend.make_kg / self.filler
        share = self.drop_m3 / self.liquid_m3
        filled = float(share @ self.drops)
        # carrier takes what room is left; without one the oils must go on filling the bottle
        self.walls: FloatArray = np.array([share] if self.filler else [share, -share])
        room = [max(filled, 1.0)] if self.filler else [filled, -filled]
        self.room: FloatArray = np.array(room) + LEEWAYS[0]

    def mass_fractions(self, drops: Counts) -> dict[str, float]:
        """Each oil's share of the whole bottle, by id, mixtures unfolded. [-]"""
        masses_kg = drops * self.drop_kg
        rest_m3 = max(self.liquid_m3 - float(self.drop_m3 @ drops), 0.0)
        whole_kg = masses_kg.sum() + rest_m3 * self.filler
        fractions = dict(zip(self.ids, (masses_kg / whole_kg).tolist(), strict=True))
        if self.blend.mixtures:
            fractions |= {n: kg * rest_m3 / whole_kg for n, kg in self.poured.items()}
        return unfold(fractions)

    def over(self, drops: Counts) -> list[Rule]:
        """The rules that a count breaks."""
        fractions = self.mass_fractions(drops)
        return [rule for rule in self.rules if rule.is_broken_by(fractions)]

    def inequalities(self, leeway: float) -> tuple[FloatArray, FloatArray]:
        """Each limit, eased by `leeway`, as shares used by a drop; then the room for liquid."""
        limits = [rule for rule in self.rules if rule.ceiling is not None]
        weights = [[fold(rule.binding, name) for name in self.ids] for rule in limits]
        counted_kg = np.array(weights).reshape(-1, len(self.ids)) * self.drop_kg
        poured = [
            sum(kg * fold(rule.binding, name) for name, kg in self.poured.items())
            for rule in limits
        ]
        filler_kg = np.array(poured).reshape(-1, 1)  # counted in one m3 of what fills up
        ceilings = np.array([[rule.ceiling] for rule in limits], float).reshape(-1, 1)
        ceilings *= 1 + leeway
        room_m3 = self.liquid_m3
        rows = counted_kg - ceilings * (self.drop_kg - self.drop_m3 * self.filler)
        rows -= filler_kg * self.drop_m3
        unit = ceilings * room_m3 * _ABOUT_KG_PER_M3
        unit = np.where(unit > 0, unit, counted_kg.max(axis=1, keepdims=True, initial=1e-12))
        right = ((ceilings * self.filler - filler_kg) * room_m3 / unit)[:, 0]
        return np.vstack([rows / unit, self.walls]), np.concatenate([right, self.room])

    def has_room(self, drops: Counts) -> bool:
        """True where a count fits the bottle."""
        return bool((self.walls @ drops <= self.room).all())

    def with_more(self, drops: Counts, place: int, more: int = 1) -> Counts:
        """A count with some drops more of one oil."""
        changed = drops.copy()
        changed[place] += more
        return changed

    def one_more(self, place: int) -> str:
        """The smallest amount more of one oil, in words."""
        one = "one drop" if self.blend.step_kg is None else self.blend.plain_count(1)
        return f"{one} more of {self.names[place]}"

    def make(self, drops: Counts) -> Blend:
        """The blend with these drops, its strength as it then is."""
        counts, known = dict(zip(self.ids, drops.tolist(), strict=True)), self.blend.oil_drops
        document = self.blend.to_dict()
        entries = []
        for entry, part in zip(document["oils"], self.blend.oils, strict=True):
            entries.append({**_free(entry), "drops": counts.pop(part.oil.id)})
            target = self.gentler.get(part.oil.id, part.oil.id)
            if target not in known and counts.get(target):
                entries.append({"id": target, "note": part.note, "drops": counts.pop(target)})
        document["oils"] = entries
        blend = Blend.from_dict(document)
        strength = min(blend.bottle.actual_strength, 1.0)
        if not self.filler or math.isclose(strength, self.blend.bottle.actual_strength):
            return blend
        return Blend.from_dict({**document, "strength": f"{show(strength * 100, 5)} %"})

    def binding(
        self, drops: Counts, trials: Mapping[str, Counts]
    ) -> tuple[tuple[str, ...], list[str]]:
        """The rules that a trial would break, by name and in words."""
        words: dict[str, tuple[str, str]] = {}
        for trial, more in trials.items():
            for rule in self.over(more):
                used, then = (
                    rule.share(self.mass_fractions(n), rule.binding) * 100
                    for n in (drops, more)
                )
                said = f"{show(used)} % of it is used; {trial} would make it {show(then, 5)} %"
                said = said if rule.ceiling else "it allows none at all"
                words.setdefault(name_of(rule), (rule.subject, said))
        agreeing: dict[tuple[str, str], list[str]] = {}
        for name, key in words.items():
            agreeing.setdefault(key, []).append(name.removesuffix(f", {key[0]}"))
        return tuple(words), [
            f"What sets the limit: {' and '.join(sets)}, {subject}; {said}."
            for (subject, said), sets in agreeing.items()
        ]

    # --- in words ---

    def moves_in_words(self, drops: Counts, swapped: Counts) -> list[str]:
        """Changes to make, in a sentence, with the drops in all."""
        if (drops == self.drops).all():
            return ["Nothing has to move: every limit that has a figure is kept."]
        name, plain = dict(zip(self.ids, self.names, strict=True)), self.blend.plain_count
        pairs = zip(self.gentler.items(), swapped, strict=True)
        swaps = [(old, new, count) for (old, new), count in pairs if count]
        words = [
            f"Change {self.blend.count_in_words(count)} of {name[old]} for {name[new]}."
            for old, new, count in swaps
        ]
        changed = dict(zip(self.ids, self.drops, strict=True))  # by the swaps alone
        for old, new, count in swaps:
            changed[old] -= count
            changed[new] += count
        changes = zip(self.names, changed.values(), self.drops, drops, strict=True)
        words += [
            f"{oil}: {plain(was)} → {self.blend.count_in_words(n)}."
            for oil, swaps_give, was, n in changes
            if swaps_give != n
        ]
        of_note = dict.fromkeys(self.notes, 0)
        for own, n in zip(self.notes, drops, strict=True):
            of_note[own] += n
        by_note = [f"{note} {plain(n)}" for note, n in of_note.items()]
        what, whole = "Oil" if self.blend.step_kg else "Drops of oil", plain(sum(drops))
        total = f"{what} in all: {plain(sum(self.drops))} → {whole} ({', '.join(by_note)})."
        return [*words, total]

    def ways_out(self, keep: str | None = None, at_least: int = 0) -> str:
        """Conditions that could be dropped, where no blend was found."""
        ways = [f'Let total or note ratio change (now keep="{keep}").'] if keep else []
        ways += ["Let oils go down to 0 drops (at_least=0)."] if at_least else []
        if not self.filler:
            ways.append("Add a carrier: without one the oils must go on filling the bottle.")
        return " ".join(ways) or "Take a larger bottle, in which a drop weighs less."

    def obstacles(self, drops: Counts, fix: str) -> list[Problem]:
        """Every limit that is over at these drops, as a problem."""
        fractions, counts = self.mass_fractions(drops), drops.tolist()
        problems = []
        for rule in self.over(drops):
            held = ", ".join(
                f"{self.blend.count_in_words(count)} of {name}"
                for oil, name, count in zip(self.ids, self.names, counts, strict=True)
                if count and fold(rule.binding, oil)
            )
            share, way_out = show(rule.share(fractions, rule.binding) * 100), fix
            got, needed = f"{share} % of the limit with {held}", "at most 100 %"
            if not rule.ceiling:
                got, needed, way_out = held, "none at all", "Take another oil instead."
                way_out = rule.remark if rule.kind == UNMATCHED else way_out
            elif rule.kind != "phototoxic sum":
                needed += f", which is {show(rule.ceiling * 100)} % by mass"
            way_out += "" if rule.decides else " Or leave advice out (heed_advice=False)."
            problems.append(Problem(name_of(rule), got, needed, way_out))
        return problems


def in_its_own_ratio(blend: Blend) -> Blend:
    """The same drops as a ratio, so that sharing them out again changes none.

    Oils without a drop are left out. Counts stay fixed only where no strength of five digits
    gives the same total.
    """
    counts = {part.oil.id: blend.oil_drops[part.oil.id] for part in blend.oils}
    document = blend.to_dict()
    fixed = [
        {**_free(entry), "note": part.note, "parts": count, "drops": count}
        for entry, part in zip(document["oils"], blend.oils, strict=True)
        if (count := counts[part.oil.id])
    ]
    free = [_free(entry) for entry in fixed]
    of_note: dict[str, int] = {}
    for entry in fixed:
        of_note[entry["note"]] = of_note.get(entry["note"], 0) + entry["drops"]
    whole = math.gcd(*of_note.values())
    note_parts = {note: count // whole for note, count in of_note.items()}
    strengths = (document["strength"], f"{show(blend.bottle.actual_strength * 100, 5)} %")
    for strength in strengths:
        same = {"note_parts": note_parts, "oils": free, "strength": strength}
        made = attempt([], Blend, {**document, **same})
        if made and all(made.oil_drops[entry["id"]] == entry["drops"] for entry in fixed):
            return made
    return Blend({**document, "note_parts": note_parts, "oils": fixed})


def _free(entry: Mapping[str, Any]) -> dict[str, Any]:
    """An oil's entry without its fixed count, in drops or by mass."""
    return {key: value for key, value in entry.items() if key not in ("drops", "mass")}


def name_of(rule: Rule) -> str:
    """Name of a rule in a sentence."""
    return f"{rule.rule_set}, {rule.subject}"
