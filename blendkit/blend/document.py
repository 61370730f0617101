"""Reader of blend documents: fields as numbers and materials, and every problem.

The document is what a maker keeps in a file and what a panel writes. Nothing is computed
here beyond turning text into numbers; `blendkit.blend.blend` makes a `Blend` of the fields.
"""

import contextlib
import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from types import MappingProxyType
from typing import Any, TypeVar

from blendkit.blend.fields import CarrierPart, Fields, OilPart
from blendkit.blend.market import Market
from blendkit.foundation.errors import Problem, UnknownMaterial, attempt, quoted, text_of
from blendkit.foundation.field_reader import FieldReader
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import (
    G_PER_KG,
    ML_PER_M3,
    is_positive_number,
    is_whole_number,
    show,
    to_si,
)
from blendkit.materials import catalogue
from blendkit.materials.catalogue import TRADE_DROPS_PER_ML, Carrier, MixedMaterial, Oil

Material = TypeVar("Material", Oil, Carrier)
STRENGTH_BASES, WAYS = ("drops", "volume", "mass"), ("drops", "mass")
SCALE_STEP, LARGEST_STEP_KG = "0.01 g", 0.01
LARGEST_BOTTLE_M3 = 0.01
MOST_DROPS_PER_ML = 200.0
MOST_OVERFILL = 0.2  # of the bottle, into its neck; own choice, no published source
MOST_COUNTS = 1_000_000
LONGEST_NAME = 200
LONGEST_REASON = 500

_NEEDED = ("bottle", "strength", "note_parts", "oils", "carriers")
_OTHERS = (
    "name", "headspace", "botanicals", "strength_basis", "drops_per_ml", "market", "accepted",
    "by", "step", "make",
)  # fmt: skip
_KEYS = dict.fromkeys(_NEEDED, True) | dict.fromkeys(_OTHERS, False)
_OIL_KEYS = {"id": True, "note": False, "parts": False, "drops": False, "mass": False}
_CARRIER_KEYS = {"id": True, "parts": False, "share": False}
_MARKET_KEYS = {"region": False, "use": False}
_ACCEPTED_KEYS = {"limit": True, "reason": True}


def read_fields(document: object) -> tuple[Fields | None, list[Problem]]:
    """The fields of a document, or every problem in it.

    Returns
    -------
    fields : Fields or None
        None where there is any problem.
    problems : list of Problem
    """
    if not isinstance(document, Mapping):
        needed = "a document with bottle, strength, note_parts, oils and carriers"
        return None, [Problem("blend", quoted(document), needed)]
    reader = _Reader(document)
    fields = reader.fields()
    return (None if reader.problems else fields), reader.problems


class _Reader(FieldReader):
    """Reads a blend document."""

    def fields(self) -> Fields:
        self.check_keys("", self.document, _KEYS)
        by = self.choice("by", self.document.get("by", WAYS[0]), WAYS)
        step_kg = self._mass("step", SCALE_STEP, LARGEST_STEP_KG) if by == "mass" else None
        oils, carriers = self._oils(step_kg), self._carriers(by)
        fields = Fields(
            name=self.name("name", self.document.get("name", ""), LONGEST_NAME),
            bottle_m3=self._volume("bottle", smallest=1e-7),
            headspace_m3=self._volume("headspace", smallest=-LARGEST_BOTTLE_M3),
            botanicals_m3=self._volume("botanicals"),
            strength_fraction=self._strength(),
            strength_basis=self.choice(
                "strength_basis",
                self.document.get("strength_basis", by),
                STRENGTH_BASES[1:] if by == "mass" else STRENGTH_BASES,
            ),
            drops_per_ml=self._drops_per_ml(oils),
            note_parts=self._note_parts(oils),
            oils=oils,
            carriers=carriers,
            market=self._market(),
            accepted=self._accepted(),
            step_kg=step_kg,
            make_kg=self._mass("make") if "make" in self.document else None,
        )
        if not self.problems:
            self._check_together(fields)
        return fields

    def _quantity(
        self, key: str, unit: str, bounds: tuple[float, float], needed: str, otherwise: str = ""
    ) -> float | None:
        """A quantity within bounds, both included; None where it cannot be read."""
        value = self.document.get(key, otherwise)
        number = attempt(self.problems, to_si, value, unit, name=key)
        if number is not None and not bounds[0] <= number <= bounds[1]:
            self.add(key, quoted(value), needed)
        return number

    def _volume(self, key: str, smallest: float = 0.0) -> float:
        if key not in self.document:
            return 0.0
        bounds = smallest, LARGEST_BOTTLE_M3
        least, most = (show(bound * ML_PER_M3) for bound in bounds)
        needed = f"a volume from {least} mL to {most} mL"
        return self._quantity(key, "m**3", bounds, needed) or 0.0

    def _mass(self, key: str, otherwise: str = "", most_kg: float = 100.0) -> float:
        """A mass above 0, of a blend by mass. [kg]"""
        needed = f"a mass above 0 and up to {show(most_kg * 1e3)} g"
        return self._quantity(key, "kg", (1e-9, most_kg), needed, otherwise) or 1.0

    def _fixed(self, where: str, entry: Mapping[str, Any], step_kg: float | None) -> int | None:
        """A count fixed by hand, in drops or steps; or a mass, as a count of steps."""
        fixed = entry.get("drops")
        if "drops" in entry and not is_whole_number(fixed, 0, MOST_COUNTS):
            needed = "a whole number of drops, 0 or more"
            self.add(f"{where}, drops", quoted(fixed), needed)
        if "mass" not in entry:
            return fixed
        if step_kg is None or "drops" in entry:
            needed = 'no drops, and "by": "mass" in the document'
        else:
            mass_kg = self.attempt(where, to_si, entry["mass"], "kg", name="mass") or 0.0
            steps = mass_kg / step_kg
            if 0 <= steps <= MOST_COUNTS and abs(steps - round(steps)) <= 1e-6:
                return round(steps)
            needed = f"whole steps of {show(step_kg * G_PER_KG)} g, 0 or more"
        self.add(f"{where}, mass", quoted(entry["mass"]), needed)
        return None

    def _strength(self) -> float:
        needed, above_0 = 'above 0 % and at most 100 %, such as "20 %"', math.ulp(0.0)
        strength = self._quantity("strength", "dimensionless", (above_0, 1.0), needed, "20 %")
        return strength or 0.0

    def _materials(
        self, key: str, known: Mapping[str, bool]
    ) -> Iterator[tuple[str, Mapping[str, Any]]]:
        seen: set[str] = set()
        for where, entry in self.entries(key, known):
            if "id" in entry:
                name, fix = text_of(entry["id"]), "Add their parts together."
                self.once(where, name, seen, "each material once", fix)
            yield where, entry

    def _oils(self, step_kg: float | None) -> tuple[OilPart, ...]:
        oils, known = [], catalogue.oil_ids()  # own lots among them: one look into the store
        for where, entry in self._materials("oils", _OIL_KEYS):
            fixed = self._fixed(where, entry, step_kg)
            parts = self.positive(f"{where}, parts", entry.get("parts", 1))
            if oil := self._find(where, entry, "oil", catalogue.oil, known):
                note = self.choice(f"{where}, note", entry.get("note", oil.note), NOTES)
                oils.append(OilPart(oil, note, parts, fixed))
        if not oils and not self.problems:
            self.add("oils", "nothing", "at least one oil")
        return tuple(oils)

    def _carriers(self, by: str) -> tuple[CarrierPart, ...]:
        """Carriers with their parts by volume; a share of them all becomes parts too."""
        found, known = list[tuple[Carrier, float, float]](), catalogue.carrier_ids()
        for where, entry in self._materials("carriers", _CARRIER_KEYS):
            share = self._share(where, entry) if "share" in entry else 0.0
            parts = self.positive(f"{where}, parts", entry.get("parts", 1))
            if carrier := self._find(where, entry, "carrier", catalogue.carrier, known):
                found.append((carrier, parts, share))
        shared = sum(share for _, _, share in found)
        whole = sum(parts for _, parts, share in found if not share)
        if shared and (shared >= 1 or not whole):
            needed = "shares below 100 % in all, and a carrier with parts to fill up with"
            self.add("carriers", f"shares of {show(shared * 100)} %", needed)
            return ()
        each = whole / (1 - shared)
        return tuple(
            CarrierPart(carrier, amount / carrier.density_kg_per_m3 if by == "mass" else amount)
            for carrier, parts, share in found
            if (amount := share * each if share else parts)
        )

    def _share(self, where: str, entry: Mapping[str, Any]) -> float:
        """Share of an additive in all that is poured, by volume or by mass. [-]"""
        share = self.attempt(where, to_si, entry["share"], "dimensionless", name="share")
        if share is not None and ("parts" in entry or not 0 < share < 1):
            needed = 'no parts, and a share above 0 % and below 100 %, such as "1 %"'
            self.add(f"{where}, share", quoted(entry["share"]), needed)
            return 0.5
        return share or 0.5

    def _find(
        self,
        where: str,
        entry: Mapping[str, Any],
        kind: str,
        find: Callable[[str], Material],
        known: tuple[str, ...],
    ) -> Material | None:
        name = entry.get("id")
        if name in known or (isinstance(name, str) and catalogue.find_own(name)):
            with contextlib.suppress(UnknownMaterial):  # an own material of the other kind
                return find(name)
        if "id" in entry:
            hint = self.hint(name, known) or f"See bk.{kind}s() for all of them."
            self.add(f"{where}, id", quoted(name), f"an id of the {kind}s on record", hint)
        return None

    def _drops_per_ml(self, oils: Iterable[OilPart]) -> Mapping[str, float]:
        given = self.document.get("drops_per_ml", TRADE_DROPS_PER_ML)
        if not isinstance(given, Mapping):
            given = {"default": given}
        if not self.is_short("drops_per_ml", given):
            given = {}
        known = {"default", *catalogue.known_ids()}
        for key, value in given.items():
            where = f"drops_per_ml, {key}"
            if key not in known:
                self.choice(where, key, known, 'an id on record, or "default"')
            elif not is_positive_number(value) or not 1 <= value <= MOST_DROPS_PER_ML:
                needed = f"drops in one millilitre, a number from 1 to {MOST_DROPS_PER_ML:g}"
                self.add(where, quoted(value), needed)
        own = {
            part.oil.id: part.oil.drops_per_ml
            for part in oils
            if isinstance(part.oil, MixedMaterial) and part.oil.drops_per_ml
        }
        return MappingProxyType({"default": TRADE_DROPS_PER_ML, **own, **given})

    def _note_parts(self, oils: tuple[OilPart, ...]) -> Mapping[str, float]:
        given = self.document.get("note_parts", {})
        if not isinstance(given, Mapping):
            needed = 'parts by note, such as {"top": 2, "base": 1}'
            self.add("note_parts", quoted(given), needed)
            return {}
        if not self.is_short("note_parts", given):
            return {}
        used = {part.note for part in oils}
        entries = self.document.get("oils")
        all_known = isinstance(entries, list | tuple) and len(oils) == len(entries)
        for note, parts in given.items():
            where = f"note_parts, {note}"
            if note not in NOTES:
                self.choice(where, note, NOTES)
            elif note not in used and all_known:
                fix = f'Add one, or leave "{note}" out.'
                self.add(where, quoted(parts), "an oil in this note", fix)
            self.positive(where, parts)
        for note in NOTES:
            if note in used and note not in given:
                needed = f"parts for the {note} note, which has oils"
                self.add(f"note_parts, {note}", "nothing", needed)
        return MappingProxyType(dict(given))

    def _market(self) -> Market:
        given = self.document.get("market", {})
        if isinstance(given, Market):
            return given
        if not isinstance(given, Mapping):
            needed = 'a region, a use or both, such as {"region": "EU"}'
            self.add("market", quoted(given), needed)
            return Market()
        self.check_keys("market, ", given, _MARKET_KEYS)
        choice = {key: given[key] for key in _MARKET_KEYS if key in given}
        return self.attempt("market", Market, **choice) or Market()

    def _accepted(self) -> Mapping[str, str]:
        """Limits by name; whether one applies is for the skin check, whose tables change."""
        found: dict[str, str] = {}
        seen: set[str] = set()
        example = '{"limit": "IFRA standards: eugenol", "reason": "..."}'
        for where, entry in self.entries("accepted", _ACCEPTED_KEYS, example=example):
            limit, reason = (
                self.name(f"{where}, {key}", entry.get(key, "-"), LONGEST_REASON).strip()
                for key in _ACCEPTED_KEYS
            )
            if not (limit and reason):
                self.add(where, "an empty text", "a limit by its name, and a reason")
            self.once(where, limit, seen, "each limit once")
            found[limit] = reason
        return MappingProxyType(found)

    def _check_together(self, fields: Fields) -> None:
        both = {p.oil.id for p in fields.oils} & {p.carrier.id for p in fields.carriers}
        for name in sorted(both):
            self.add("carriers", f"{quoted(name)}, an oil here", "each material once")
        if not fields.carriers and fields.strength_fraction < 1:
            needed = "at least one carrier when the strength is below 100 %"
            self.add("carriers", "nothing", needed)
        if fields.make_kg and (fields.step_kg is None or fields.strength_basis != "mass"):
            needed = '"by": "mass", with strength by mass'
            self.add("make", quoted(self.document["make"]), needed)
        if fields.liquid_m3 <= 0:
            displaced = fields.headspace_m3 + fields.botanicals_m3
            got = f"{show(displaced * ML_PER_M3)} mL taken up"
            self.add("headspace and botanicals", got, "less than the bottle holds")
        if fields.headspace_m3 < -MOST_OVERFILL * fields.bottle_m3:
            needed = f"0 mL, or up to {MOST_OVERFILL:.0%} of the bottle above its mark"
            self.add("headspace", quoted(self.document["headspace"]), needed)
