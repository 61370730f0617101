"""Reading the document of a class field by field, collecting every problem on the way.

Nothing is computed here beyond turning text into numbers and materials; the class that comes
out is `blendkit.teaching.class_document.ClassPlan`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import islice
from types import MappingProxyType
from typing import Any

from blendkit.blend.blend import Blend
from blendkit.blend.document import MOST_ENTRIES, TRADE_DROPS_PER_ML, read_fields
from blendkit.blend.fields import Fields, OilPart
from blendkit.blend.market import Market
from blendkit.foundation.errors import (
    MOST_SHOWN,
    BadNumber,
    Problem,
    Refused,
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
    to_si,
)
from blendkit.materials import catalogue
from blendkit.skin.cautions import WEARERS
from blendkit.skin.limits import FIGURES, checked_figures
from blendkit.teaching.class_parts import ClassBlend, PaletteOil, Seat

MOST_SEATS = 200
MOST_OILS = 16
LONGEST_NAME = 80
USUAL_SPILLAGE, USUAL_SNIFFING_DROPS = "10 %", 5  # judgement
_KEYS = (
    "name", "seats", "tables", "minutes", "budget", "currency", "bottle", "headspace",
    "strength", "drops_per_ml", "note_parts", "oils", "carriers", "blends", "region", "use",
    "figures", "spillage", "sniffing_drops",
)  # fmt: skip
_SEAT_KEYS = ("name", "wearers", "sun_afterwards", "dislikes")
_OIL_KEYS = ("id", "note", "popularity", "bottles")
_BLEND_KEYS = ("blend", "popularity")


class ClassReader:
    """Reads one document, collecting problems as it goes."""

    def __init__(self, document: object) -> None:
        self.problems: list[Problem] = []
        self.document: Mapping[str, Any] = document if isinstance(document, Mapping) else {}
        if not isinstance(document, Mapping):
            self._add(
                "class", quoted(document), "a document with seats, bottle, oils and so on"
            )

    def _add(self, where: str, got: str, needed: str, fix: str = "") -> None:
        self.problems.append(Problem(where, got, needed, fix))

    def read(self) -> dict[str, Any]:
        """The fields of a `ClassPlan`; of use only where no problem was found."""
        get = self.document.get
        if self.problems:
            return {}
        self._known("", self.document, _KEYS)
        blends = tuple(self._blends())
        oils, fields = self._set_palette(blends) if blends else self._free_palette()
        choice = {key: get(key) for key in ("region", "use") if key in self.document}
        market = attempt(self.problems, Market, **choice)
        figures = attempt(self.problems, checked_figures, get("figures", FIGURES[0]))
        currency = get("currency", "")
        if not isinstance(currency, str) or len(currency) > 8:
            self._add("currency", quoted(currency), 'a short word such as "EUR"')
        return {
            "name": self._name("name", get("name", "")),
            "seats": tuple(self._seats(get("seats", 0))),
            "tables": self._whole("tables", get("tables", 1), 1, 40),
            "minutes": self._whole("minutes", get("minutes", 90), 20, 600),
            "budget": self._budget(get("budget")),
            "currency": currency,
            "fields": fields,
            "oils": oils,
            "blends": blends,
            "market": market,
            "figures": figures,
            "spillage": self._spillage(get("spillage", USUAL_SPILLAGE)),
            "sniffing_drops": self._whole(
                "sniffing_drops", get("sniffing_drops", USUAL_SNIFFING_DROPS), 0, 1000
            ),
        }

    def _hint(self, word: object, known: Iterable[str]) -> str:
        """The nearest known word, for the problems that are shown; looking it up is slow."""
        return near_miss(word, known) if len(self.problems) < MOST_SHOWN else ""

    def _known(self, where: str, given: Mapping[str, Any], known: tuple[str, ...]) -> None:
        for key in islice(given, MOST_ENTRIES):
            if key not in known:
                hint = self._hint(key, known) or "Known: " + ", ".join(known) + "."
                self._add(f"{where}{key}", "an unknown key", "a known key", hint)

    def _name(self, where: str, value: object) -> str:
        if not isinstance(value, str) or len(value) > LONGEST_NAME:
            self._add(where, quoted(value), f"text of at most {LONGEST_NAME} characters")
        elif has_half_characters(value):
            self._add(where, "half a character", "whole characters", "Type the name anew.")
        return " ".join(text_of(value).split())

    def _whole(self, where: str, value: object, low: int, high: int) -> int:
        if not is_whole_number(value, low, high):
            self._add(where, quoted(value), f"a whole number from {low} to {high}")
            return low
        return value

    def _budget(self, value: object) -> float | None:
        if value is None:
            return None
        if not is_positive_number(value):
            self._add("budget", quoted(value), "a number above 0, or nothing")
            return None
        return float(value)

    def _spillage(self, value: object) -> float:
        try:
            share = to_si(value, "dimensionless", name="spillage")  # type: ignore[arg-type]
        except BadNumber as error:
            self.problems += error.problems
            return 0.0
        if not 0 <= share <= 1:
            self._add("spillage", quoted(value), 'from 0 % to 100 %, such as "10 %"')
        return share

    def _seats(self, given: object) -> Iterator[Seat]:
        if is_whole_number(given, 1, MOST_SEATS):
            yield from (Seat(number) for number in range(1, given + 1))
            return
        if isinstance(given, int) and not isinstance(given, bool):
            fix = "Plan several sittings." if given > MOST_SEATS else ""
            self._add("seats", quoted(given), f"from 1 to {MOST_SEATS} seats", fix)
            return
        if not isinstance(given, list | tuple) or not 1 <= len(given) <= MOST_SEATS:
            got = f"{len(given)} of them" if isinstance(given, list | tuple) else quoted(given)
            self._add("seats", got, f"a number or a list of 1 to {MOST_SEATS} seats")
            return
        seen: set[str] = set()
        for number, entry in enumerate(given, start=1):
            seat = self._seat(number, entry)
            if seat.name and seat.name in seen:
                again = f"{quoted(seat.name)} a second time"
                self._add(f"seats {number}, name", again, "a name of its own for each seat")
            seen.add(seat.name)
            yield seat

    def _seat(self, number: int, entry: object) -> Seat:
        where = f"seats {number}"
        if not isinstance(entry, Mapping):
            self._add(where, quoted(entry), 'an entry such as {"name": "Seat 1"}')
            return Seat(number)
        self._known(f"{where}, ", entry, _SEAT_KEYS)
        sun = entry.get("sun_afterwards", False)
        if not isinstance(sun, bool):
            self._add(f"{where}, sun_afterwards", quoted(sun), "true or false")
        return Seat(
            number,
            self._name(f"{where}, name", entry.get("name", "")),
            self._words(f"{where}, wearers", entry.get("wearers", ()), tuple(WEARERS)),
            bool(sun),
            self._words(f"{where}, dislikes", entry.get("dislikes", ()), catalogue.oil_ids()),
        )

    def _words(self, where: str, given: object, known: tuple[str, ...]) -> tuple[str, ...]:
        if not isinstance(given, list | tuple) or len(given) > MOST_ENTRIES:
            self._add(where, quoted(given), f"a list of at most {MOST_ENTRIES}")
            return ()
        for word in given:
            if word not in known:
                some = "one of " + ", ".join(known) if len(known) < 20 else "an id on record"
                self._add(where, quoted(word), some, self._hint(word, known))
        return tuple(dict.fromkeys(word for word in given if word in known))

    def _popularity(self, where: str, value: object) -> float:
        if not is_positive_number(value):
            fix = "Leave out what nobody should pick."
            self._add(f"{where}, popularity", quoted(value), "a number above 0", fix)
            return 1.0
        return float(value)

    def _entries(self, key: str) -> list[Mapping[str, Any]]:
        given = self.document.get(key, [])
        if not isinstance(given, list | tuple) or len(given) > MOST_OILS:
            got = f"{len(given)} of them" if isinstance(given, list | tuple) else quoted(given)
            self._add(key, got, f"a list of at most {MOST_OILS} entries")
            return []
        for number, entry in enumerate(given, start=1):
            if not isinstance(entry, Mapping):
                self._add(f"{key} {number}", quoted(entry), "an entry with its keys")
        return [entry for entry in given if isinstance(entry, Mapping)]

    def _base(self) -> dict[str, Any]:
        """What a class and a blend have in common."""
        keys = ("bottle", "headspace", "strength", "drops_per_ml", "note_parts")
        return {key: self.document[key] for key in keys if key in self.document}

    def _carriers(self) -> object:
        given = self.document.get("carriers", [])
        if not isinstance(given, list | tuple):
            return given
        return [{"id": name} if isinstance(name, str) else name for name in given]

    def _all_carriers(self, blends: tuple[ClassBlend, ...]) -> object:
        """The carriers of all blends once each, then those of the class."""
        held = [part.carrier.id for each in blends for part in each.blend.carriers]
        typed = self._carriers()
        others = [
            each
            for each in (typed if isinstance(typed, list) else [typed])
            if not isinstance(each, Mapping) or each.get("id") not in held
        ]
        return [*({"id": name} for name in dict.fromkeys(held)), *others]

    def _free_palette(self) -> tuple[tuple[PaletteOil, ...], Fields | None]:
        entries = self._entries("oils")
        ways: dict[str, tuple[float, int]] = {}
        for number, entry in enumerate(entries, start=1):
            where = f"oils {number}"
            self._known(f"{where}, ", entry, _OIL_KEYS)
            ways[text_of(entry.get("id"))] = (
                self._popularity(where, entry.get("popularity", 1)),
                self._whole(f"{where}, bottles", entry.get("bottles", 1), 1, 100),
            )
        plain = [{key: e[key] for key in ("id", "note") if key in e} for e in entries]
        given = self.document.get("oils", [])
        fields, problems = read_fields(
            {
                **self._base(),
                "oils": plain if isinstance(given, list | tuple) else given,
                "carriers": self._carriers(),
            }
        )
        self.problems += problems
        if fields is None:
            return (), None
        if fields.strength_fraction * drops_that_fill(fields) < 0.5:
            self._add("strength", "not one drop of oil in a bottle", "at least one drop")
        parts = [(part.oil, part.note, *ways[part.oil.id]) for part in fields.oils]
        return _from_the_base([PaletteOil(*part) for part in parts]), fields

    def _blends(self) -> Iterator[ClassBlend]:
        if "blends" in self.document and not self.document["blends"]:
            self._add("blends", "none", "at least one blend, or oils to mix freely")
        for number, entry in enumerate(self._entries("blends"), start=1):
            where = f"blends {number}"
            self._known(f"{where}, ", entry, _BLEND_KEYS)
            popularity = self._popularity(where, entry.get("popularity", 1))
            given = entry.get("blend")
            written = dict(given) if isinstance(given, Mapping) else {}
            for key in ("bottle", "headspace"):
                if key in self.document:
                    written[key] = self.document[key]
            try:
                yield ClassBlend(Blend.from_dict(written), popularity)
            except Refused as error:
                self.problems += [
                    Problem(f"{where}, {p.where}", p.got, p.needed, p.fix)
                    for p in error.problems
                ]

    def _set_palette(
        self, blends: tuple[ClassBlend, ...]
    ) -> tuple[tuple[PaletteOil, ...], Fields | None]:
        """The oils of all set blends together, each with the note it has first."""
        first = blends[0].blend.to_dict()
        fields, problems = read_fields({**first, "carriers": self._all_carriers(blends)})
        self.problems += problems
        if fields is None:
            return (), None
        fields = _joined(blends, fields)
        bottles = {text_of(e.get("id")): e.get("bottles", 1) for e in self._entries("oils")}
        palette = [
            PaletteOil(
                part.oil, part.note,
                sum(each.popularity for each in blends if part.oil.id in each.blend.oil_drops),
                self._whole(f"{part.oil.id}, bottles", bottles.get(part.oil.id, 1), 1, 100),
            )
            for part in fields.oils
        ]  # fmt: skip
        return _from_the_base(palette), fields


def drops_that_fill(fields: Fields) -> float:
    """Drops of usual size that the liquid of a bottle comes to."""
    return fields.liquid_m3 * ML_PER_M3 * fields.drops_per_ml["default"]


def _joined(blends: tuple[ClassBlend, ...], fields: Fields) -> Fields:
    """The fields of the first blend, with the oils of all at the strength of the strongest."""
    parts: dict[str, OilPart] = {}
    sizes: dict[str, float] = {"default": TRADE_DROPS_PER_ML}
    for each in blends:
        sizes |= each.blend.drops_per_ml
        for part in each.blend.oils:
            parts.setdefault(part.oil.id, OilPart(part.oil, part.note, 1.0, None))
    used = {part.note for part in parts.values()}
    return replace(
        fields,
        name="",
        botanicals_m3=0.0,
        strength_fraction=_strongest(blends),
        strength_basis="drops",
        drops_per_ml=MappingProxyType(sizes),
        note_parts=MappingProxyType({note: 1.0 for note in NOTES if note in used}),
        oils=tuple(parts.values()),
    )


def _strongest(blends: tuple[ClassBlend, ...]) -> float:
    """The most drops in any of the blends, as a share of what would fill the bottle. [-]"""
    most = max(each.blend.total_drops / drops_that_fill(each.blend) for each in blends)
    return min(most, 1.0)


def _from_the_base(oils: list[PaletteOil]) -> tuple[PaletteOil, ...]:
    """In mixing order: base, middle, top."""
    order = tuple(reversed(NOTES))
    return tuple(sorted(oils, key=lambda each: order.index(each.note)))
