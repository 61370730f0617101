"""Reader of blend documents: fields as numbers and materials, and every problem.

The document is what a maker keeps in a file and what a panel writes. Nothing is computed
here beyond turning text into numbers; `blendkit.blend.blend` makes a `Blend` of the fields.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Any

from blendkit.blend.fields import CarrierPart, Fields, OilPart
from blendkit.blend.market import Market
from blendkit.foundation.errors import Problem, attempt, quoted, text_of
from blendkit.foundation.field_reader import FieldReader
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import (
    ML_PER_M3,
    is_positive_number,
    is_whole_number,
    show,
    to_si,
)
from blendkit.materials import catalogue

STRENGTH_BASES = ("drops", "volume", "mass")
TRADE_DROPS_PER_ML = 20.0  # common practice, no published source
LARGEST_BOTTLE_M3 = 0.01
MOST_DROPS_PER_ML = 200.0
MOST_OVERFILL = 0.2  # of the bottle, into its neck; own choice, no published source
LONGEST_NAME = 200
LONGEST_REASON = 500

_KEYS = {
    "name": False,
    "bottle": True,
    "headspace": False,
    "botanicals": False,
    "strength": True,
    "strength_basis": False,
    "drops_per_ml": False,
    "note_parts": True,
    "oils": True,
    "carriers": True,
    "market": False,
    "accepted": False,
}
_OIL_KEYS = {"id": True, "note": False, "parts": False, "drops": False}
_CARRIER_KEYS = {"id": True, "parts": False}
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
        oils, carriers = self._oils(), self._carriers()
        fields = Fields(
            name=self.name("name", self.document.get("name", ""), LONGEST_NAME),
            bottle_m3=self._volume("bottle", smallest=1e-7),
            headspace_m3=self._volume("headspace", smallest=-LARGEST_BOTTLE_M3),
            botanicals_m3=self._volume("botanicals"),
            strength_fraction=self._strength(),
            strength_basis=self.choice(
                "strength_basis", self.document.get("strength_basis", "drops"), STRENGTH_BASES
            ),
            drops_per_ml=self._drops_per_ml(),
            note_parts=self._note_parts(oils),
            oils=oils,
            carriers=carriers,
            market=self._market(),
            accepted=self._accepted(),
        )
        if not self.problems:
            self._check_together(fields)
        return fields

    def _volume(self, key: str, smallest: float = 0.0) -> float:
        if key not in self.document:
            return 0.0
        value = self.document[key]
        volume_m3 = attempt(self.problems, to_si, value, "m**3", name=key)
        if volume_m3 is not None and not smallest <= volume_m3 <= LARGEST_BOTTLE_M3:
            least = f"from {show(smallest * ML_PER_M3)} mL"
            needed = f"a volume {least} to {show(LARGEST_BOTTLE_M3 * ML_PER_M3)} mL"
            self.add(key, quoted(value), needed)
        return volume_m3 or 0.0

    def _strength(self) -> float:
        value = self.document.get("strength", "20 %")
        strength = attempt(self.problems, to_si, value, "dimensionless", name="strength")
        if strength is not None and not 0 < strength <= 1:
            self.add("strength", quoted(value), 'above 0 % and at most 100 %, such as "20 %"')
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

    def _oils(self) -> tuple[OilPart, ...]:
        oils, known = [], catalogue.oil_ids()  # own lots among them: one look into the store
        for where, entry in self._materials("oils", _OIL_KEYS):
            fixed = entry.get("drops")
            if "drops" in entry and not is_whole_number(fixed, 0, 1_000_000):
                needed = "a whole number of drops, 0 or more"
                self.add(f"{where}, drops", quoted(fixed), needed)
            parts = self.positive(f"{where}, parts", entry.get("parts", 1))
            if self._is_known(where, entry, "oil", known):
                oil = catalogue.oil(entry["id"])
                note = self.choice(f"{where}, note", entry.get("note", oil.note), NOTES)
                oils.append(OilPart(oil, note, parts, fixed))
        if not oils and not self.problems:
            self.add("oils", "nothing", "at least one oil")
        return tuple(oils)

    def _carriers(self) -> tuple[CarrierPart, ...]:
        carriers, known = [], catalogue.carrier_ids()
        for where, entry in self._materials("carriers", _CARRIER_KEYS):
            parts = self.positive(f"{where}, parts", entry.get("parts", 1))
            if self._is_known(where, entry, "carrier", known):
                carriers.append(CarrierPart(catalogue.carrier(entry["id"]), parts))
        return tuple(carriers)

    def _is_known(
        self, where: str, entry: Mapping[str, Any], kind: str, known: tuple[str, ...]
    ) -> bool:
        if "id" not in entry or entry["id"] in known:
            return "id" in entry
        name = entry["id"]
        hint = self.hint(name, known) or f"See bk.{kind}s() for all of them."
        self.add(f"{where}, id", quoted(name), f"an id of the {kind}s on record", hint)
        return False

    def _drops_per_ml(self) -> Mapping[str, float]:
        given = self.document.get("drops_per_ml", TRADE_DROPS_PER_ML)
        if not isinstance(given, Mapping):
            given = {"default": given}
        if not self.is_short("drops_per_ml", given):
            given = {}
        known = {"default", *catalogue.oil_ids(), *catalogue.carrier_ids()}
        for key, value in given.items():
            where = f"drops_per_ml, {key}"
            if key not in known:
                self.choice(where, key, known, 'an id on record, or "default"')
            elif not is_positive_number(value) or not 1 <= value <= MOST_DROPS_PER_ML:
                needed = f"drops in one millilitre, a number from 1 to {MOST_DROPS_PER_ML:g}"
                self.add(where, quoted(value), needed)
        return MappingProxyType({"default": TRADE_DROPS_PER_ML, **given})

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
        if not fields.carriers and fields.strength_fraction < 1:
            needed = "at least one carrier when the strength is below 100 %"
            self.add("carriers", "nothing", needed)
        if fields.liquid_m3 <= 0:
            displaced = fields.headspace_m3 + fields.botanicals_m3
            got = f"{show(displaced * ML_PER_M3)} mL taken up"
            self.add("headspace and botanicals", got, "less than the bottle holds")
        if fields.headspace_m3 < -MOST_OVERFILL * fields.bottle_m3:
            needed = f"0 mL, or up to {MOST_OVERFILL:.0%} of the bottle above its mark"
            self.add("headspace", quoted(self.document["headspace"]), needed)
