"""Reading a blend document field by field, collecting every problem on the way.

The document is what a maker keeps in a file and what a panel writes. Nothing is computed
here beyond turning text into numbers; `blendkit.blend.blend` makes a `Blend` of the fields.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sized
from dataclasses import replace
from itertools import islice
from types import MappingProxyType
from typing import Any

from blendkit.blend.fields import CarrierPart, Fields, OilPart
from blendkit.blend.market import Market
from blendkit.foundation.errors import (
    MOST_SHOWN,
    BadNumber,
    Problem,
    attempt,
    near_miss,
    quoted,
    text_of,
)
from blendkit.foundation.keep import has_half_characters
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
MOST_ENTRIES = 1000
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


class _Reader:
    """Reads one document, collecting problems as it goes."""

    def __init__(self, document: Mapping[str, Any]) -> None:
        self.document = document
        self.problems: list[Problem] = []

    def fields(self) -> Fields:
        self._check_keys("", self.document, _KEYS)
        oils, carriers = self._oils(), self._carriers()
        fields = Fields(
            name=self._name(),
            bottle_m3=self._volume("bottle", smallest=1e-7),
            headspace_m3=self._volume("headspace"),
            botanicals_m3=self._volume("botanicals"),
            strength_fraction=self._strength(),
            strength_basis=self._basis(),
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

    def _add(self, where: str, got: str, needed: str, fix: str = "") -> None:
        self.problems.append(Problem(where, got, needed, fix))

    def _hint(self, word: object, known: Iterable[str]) -> str:
        """The nearest known word, for the problems that are shown; looking it up is slow."""
        return near_miss(word, known) if len(self.problems) < MOST_SHOWN else ""

    def _is_short(self, where: str, given: Sized) -> bool:
        if len(given) > MOST_ENTRIES:
            self._add(where, f"{len(given)} entries", f"at most {MOST_ENTRIES}")
        return len(given) <= MOST_ENTRIES

    def _check_keys(
        self, where: str, given: Mapping[str, Any], known: Mapping[str, bool]
    ) -> None:
        self._is_short(where or "blend", given)
        for key in islice(given, MOST_ENTRIES):
            if key not in known:
                hint = self._hint(key, known) or "Known: " + ", ".join(known) + "."
                self._add(f"{where}{key}", "an unknown key", "a known key", hint)
        for key, required in known.items():
            if required and key not in given:
                self._add(f"{where}{key}", "nothing", "a value", f'Add "{key}".')

    def _name(self) -> str:
        name = self.document.get("name", "")
        if not isinstance(name, str) or len(name) > 200:
            self._add("name", quoted(name), "text of at most 200 characters")
        elif has_half_characters(name):
            self._add("name", "half a character", "whole characters", "Type the name anew.")
        return text_of(name)

    def _volume(self, key: str, smallest: float = 0.0) -> float:
        if key not in self.document:
            return 0.0
        try:
            volume_m3 = to_si(self.document[key], "m**3", name=key)
        except BadNumber as error:
            self.problems += error.problems
            return 0.0
        if not smallest <= volume_m3 <= LARGEST_BOTTLE_M3:
            least = f"from {show(smallest * ML_PER_M3)} mL"
            needed = f"a volume {least} to {show(LARGEST_BOTTLE_M3 * ML_PER_M3)} mL"
            self._add(key, quoted(self.document[key]), needed)
        return volume_m3

    def _strength(self) -> float:
        value = self.document.get("strength", "20 %")
        try:
            strength = to_si(value, "dimensionless", name="strength")
        except BadNumber as error:
            self.problems += error.problems
            return 0.0
        if not 0 < strength <= 1:
            self._add("strength", quoted(value), 'above 0 % and at most 100 %, such as "20 %"')
        return strength

    def _basis(self) -> str:
        return self._choice(
            "strength_basis", self.document.get("strength_basis", "drops"), STRENGTH_BASES
        )

    def _choice(self, where: str, value: object, choices: tuple[str, ...]) -> str:
        if value not in choices:
            self._add(
                where,
                quoted(value),
                "one of " + ", ".join(choices),
                self._hint(value, choices),
            )
        return text_of(value)

    def _entries(
        self, key: str, known: Mapping[str, bool], named: str = "id"
    ) -> Iterator[tuple[str, Mapping[str, Any]]]:
        entries = self.document.get(key, [])
        if not isinstance(entries, list | tuple):
            self._add(key, quoted(entries), 'a list of entries such as {"id": "lavender"}')
            return
        if not self._is_short(key, entries):
            return
        seen: set[object] = set()
        for number, entry in enumerate(entries, start=1):
            where = f"{key} {number}"
            if not isinstance(entry, Mapping):
                self._add(
                    where, quoted(entry), 'an entry such as {"id": "lavender", "parts": 1}'
                )
                continue
            self._check_keys(f"{where}, ", entry, known)
            name = text_of(entry.get(named))
            if named in entry and name in seen:
                fix = "Add their parts together." if named == "id" else ""
                self._add(where, f"{quoted(name)} a second time", "each one once", fix)
            seen.add(name)
            yield where, entry

    def _oils(self) -> tuple[OilPart, ...]:
        found = []
        for where, entry in self._entries("oils", _OIL_KEYS):
            fixed = self._fixed_drops(where, entry)
            parts = self._positive(f"{where}, parts", entry.get("parts", 1))
            if self._is_known(where, entry, "oil", catalogue.oil_ids()):
                oil = catalogue.oil(entry["id"])
                note = self._choice(f"{where}, note", entry.get("note", oil.note), NOTES)
                found.append(OilPart(oil, note, parts, fixed))
        if not found and not self.problems:
            self._add("oils", "nothing", "at least one oil")
        return tuple(found)

    def _carriers(self) -> tuple[CarrierPart, ...]:
        found = []
        for where, entry in self._entries("carriers", _CARRIER_KEYS):
            parts = self._positive(f"{where}, parts", entry.get("parts", 1))
            if self._is_known(where, entry, "carrier", catalogue.carrier_ids()):
                found.append(CarrierPart(catalogue.carrier(entry["id"]), parts))
        return tuple(found)

    def _is_known(
        self, where: str, entry: Mapping[str, Any], kind: str, known: tuple[str, ...]
    ) -> bool:
        if "id" not in entry or entry["id"] in known:
            return "id" in entry
        name = entry["id"]
        hint = self._hint(name, known) or f"See bk.{kind}s() for all of them."
        self._add(f"{where}, id", quoted(name), f"an id of the {kind}s on record", hint)
        return False

    def _positive(self, where: str, value: object) -> float:
        if not is_positive_number(value):
            self._add(where, quoted(value), "a number above 0")
            return 1.0
        return float(value)

    def _fixed_drops(self, where: str, entry: Mapping[str, Any]) -> int | None:
        if "drops" not in entry:
            return None
        drops = entry["drops"]
        if not is_whole_number(drops, 0, 1_000_000):
            self._add(f"{where}, drops", quoted(drops), "a whole number of drops, 0 or more")
            return None
        return drops

    def _drops_per_ml(self) -> Mapping[str, float]:
        given = self.document.get("drops_per_ml", TRADE_DROPS_PER_ML)
        if not isinstance(given, Mapping):
            given = {"default": given}
        if not self._is_short("drops_per_ml", given):
            given = {}
        known = {"default", *catalogue.oil_ids(), *catalogue.carrier_ids()}
        for key, value in given.items():
            where = f"drops_per_ml, {key}"
            if key not in known:
                self._add(
                    where,
                    quoted(key),
                    'an id on record, or "default"',
                    self._hint(key, known),
                )
            elif not is_positive_number(value) or not 1 <= value <= MOST_DROPS_PER_ML:
                needed = f"drops in one millilitre, a number from 1 to {MOST_DROPS_PER_ML:g}"
                self._add(where, quoted(value), needed)
        return MappingProxyType({"default": TRADE_DROPS_PER_ML, **given})

    def _note_parts(self, oils: tuple[OilPart, ...]) -> Mapping[str, float]:
        given = self.document.get("note_parts", {})
        if not isinstance(given, Mapping):
            self._add(
                "note_parts", quoted(given), 'parts by note, such as {"top": 2, "base": 1}'
            )
            return {}
        if not self._is_short("note_parts", given):
            return {}
        used = {part.note for part in oils}
        entries = self.document.get("oils")
        all_known = isinstance(entries, list | tuple) and len(oils) == len(entries)
        for note, parts in given.items():
            where = f"note_parts, {note}"
            if note not in NOTES:
                self._choice(where, note, NOTES)
            elif note not in used and all_known:
                self._add(
                    where,
                    quoted(parts),
                    "an oil in this note",
                    f'Add one, or leave "{note}" out.',
                )
            self._positive(where, parts)
        for note in NOTES:
            if note in used and note not in given:
                self._add(
                    f"note_parts, {note}",
                    "nothing",
                    f"parts for the {note} note, which has oils",
                )
        return MappingProxyType(dict(given))

    def _market(self) -> Market:
        given = self.document.get("market", {})
        if isinstance(given, Market):
            return given
        if not isinstance(given, Mapping):
            needed = 'a region, a use or both, such as {"region": "EU"}'
            self._add("market", quoted(given), needed)
            return Market()
        self._check_keys("market, ", given, _MARKET_KEYS)
        problems: list[Problem] = []
        choice = {key: given[key] for key in _MARKET_KEYS if key in given}
        market = attempt(problems, Market, **choice)
        self.problems += [replace(p, where=f"market, {p.where}") for p in problems]
        return market or Market()

    def _accepted(self) -> Mapping[str, str]:
        """Limits by name; whether one applies is for the skin check, whose tables change."""
        found = {}
        for where, entry in self._entries("accepted", _ACCEPTED_KEYS, "limit"):
            for key in _ACCEPTED_KEYS:
                text = entry.get(key, "-")
                is_text = isinstance(text, str) and not has_half_characters(text)
                if not is_text or not 0 < len(text.strip()) <= LONGEST_REASON:
                    needed = f"text of 1 to {LONGEST_REASON} characters"
                    self._add(f"{where}, {key}", quoted(text), needed)
            found[text_of(entry.get("limit"))] = text_of(entry.get("reason")).strip()
        return MappingProxyType(found)

    def _check_together(self, fields: Fields) -> None:
        if not fields.carriers and fields.strength_fraction < 1:
            needed = "at least one carrier when the strength is below 100 %"
            self._add("carriers", "nothing", needed)
        if fields.liquid_m3 <= 0:
            displaced = fields.headspace_m3 + fields.botanicals_m3
            got = f"{show(displaced * ML_PER_M3)} mL taken up"
            self._add("headspace and botanicals", got, "less than the bottle holds")
