"""Reader of class documents: a `ClassPlan`, or every problem.

Nothing is computed here beyond turning text into numbers and materials.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from blendkit.blend.blend import Blend
from blendkit.blend.document import read_fields
from blendkit.blend.fields import CarrierPart, Fields, OilPart
from blendkit.blend.market import Market
from blendkit.foundation.errors import Problem, attempt, quoted, text_of
from blendkit.foundation.field_reader import MOST_ENTRIES, FieldReader
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import is_whole_number, to_si
from blendkit.materials import catalogue
from blendkit.materials.catalogue import TRADE_DROPS_PER_ML, Oil, parts_of, steeped_in
from blendkit.skin.cautions import WEARERS
from blendkit.teaching.class_document import (
    TOO_YOUNG,
    BadClass,
    ClassBlend,
    ClassPlan,
    PaletteOil,
    Seat,
)

MOST_SEATS = 200
MOST_OILS = 16
LONGEST_NAME = 80
USUAL_SPILLAGE, USUAL_SNIFFING_DROPS, USUAL_MARGIN = "10 %", 5, "85 %"  # judgement
_KEYS = dict.fromkeys(
    (
        "name", "seats", "tables", "minutes", "budget", "currency", "bottle", "headspace",
        "strength", "drops_per_ml", "note_parts", "oils", "carriers", "blends", "region", "use",
        "spillage", "sniffing_drops", "margin", "shopping", "kit", "starts_at",
        "figures",  # of older documents; both ends of every range count now
    ),
    False,
)  # fmt: skip
_SEAT_KEYS = dict.fromkeys(
    ("name", "wearers", "sun_afterwards", "dislikes", "strength_cap", "leaves_out", "marked"),
    False,
)
_OIL_KEYS = dict.fromkeys(("id", "note", "popularity", "bottles"), False)
_BLEND_KEYS = dict.fromkeys(("blend", "popularity"), False)
_SIZE_KEYS = ("bottle", "headspace")  # a set blend takes those of the class


def read_class(document: object) -> ClassPlan:
    """Read and check the document of a class.

    Parameters
    ----------
    document : mapping
        Keys ``seats``, ``bottle``, ``carriers``, and ``oils`` or ``blends``; and optionally
        the others of `data/example_class.json`, ``budget``, ``currency``, ``headspace``,
        ``drops_per_ml``, ``region``, ``use``.

    Raises
    ------
    BadClass
        Lists every problem found.
    """
    if not isinstance(document, Mapping):
        needed = "a document with seats, bottle, oils and so on"
        raise BadClass([Problem("class", quoted(document), needed)])
    reader = _Reader(document)
    fields = reader.fields()
    if reader.problems:
        raise BadClass(reader.problems)
    return ClassPlan(**fields, _document=copy.deepcopy(dict(document)))


class _Reader(FieldReader):
    """Reads a class document."""

    def fields(self) -> dict[str, Any]:
        """The fields of a `ClassPlan`."""
        get = self.document.get
        self.check_keys("", self.document, _KEYS)
        blends = tuple(self._blends())
        oils, fields = self._set_palette(blends) if blends else self._free_palette()
        self._check_carriers(fields.carriers if fields else ())
        choice = {key: get(key) for key in ("region", "use") if key in self.document}
        market = attempt(self.problems, Market, **choice)
        self._typed_rows("shopping")
        self._typed_rows("kit")
        currency = get("currency", "")
        if not isinstance(currency, str) or len(currency) > 8:
            self.add("currency", quoted(currency), 'a short word such as "EUR"')
        drops = get("sniffing_drops", USUAL_SNIFFING_DROPS)
        return {
            "name": self._one_line("name", get("name", "")),
            "seats": tuple(self._seats(get("seats", 0))),
            "tables": self.whole("tables", get("tables", 1), 1, 40),
            "minutes": self.whole("minutes", get("minutes", 90), 20, 600),
            "budget": None if get("budget") is None else self.positive("budget", get("budget")),
            "currency": currency,
            "fields": fields,
            "oils": oils,
            "blends": blends,
            "market": market,
            "spillage": self._spillage(get("spillage", USUAL_SPILLAGE)),
            "sniffing_drops": self.whole("sniffing_drops", drops, 0, 1000),
            "starts_at_min": self._starts_at(get("starts_at")),
            "margin": self._share("margin", get("margin", USUAL_MARGIN)) or 1.0,
        }

    def _starts_at(self, value: object) -> int | None:
        """A time of day in minutes from midnight; None where nothing was typed."""
        if value in (None, ""):
            return None
        found = re.fullmatch(r"([01]?\d|2[0-3])[:.]([0-5]\d)", str(value).strip())
        if found is None:
            self.add("starts_at", quoted(value), 'a time of day such as "18:30"')
            return None
        return int(found[1]) * 60 + int(found[2])

    def _typed_rows(self, key: str) -> None:
        """Check the shape of rows that were typed; `shopping` reads what is in them."""
        rows = self.document.get(key, [])
        is_list = isinstance(rows, list) and len(rows) <= MOST_ENTRIES
        if not is_list or not all(isinstance(row, dict) for row in rows):
            self.add(key, quoted(rows), f"a list of at most {MOST_ENTRIES} rows")

    def _one_line(self, where: str, value: object) -> str:
        return " ".join(self.name(where, value, LONGEST_NAME).split())

    def _spillage(self, value: object) -> float:
        share = attempt(self.problems, to_si, value, "dimensionless", name="spillage")
        if share is not None and not 0 <= share <= 1:
            self.add("spillage", quoted(value), 'from 0 % to 100 %, such as "10 %"')
        return share or 0.0

    def _seats(self, given: object) -> Iterator[Seat]:
        count = len(given) if isinstance(given, list | tuple) else given
        if not is_whole_number(count, 1, MOST_SEATS):
            many = is_whole_number(count, MOST_SEATS)
            fix = "Plan several sittings." if many else ""
            self.add("seats", quoted(count), f"from 1 to {MOST_SEATS} seats", fix)
        elif count == given:
            yield from (Seat(number) for number in range(1, count + 1))
        else:
            entries = self.entries("seats", _SEAT_KEYS, MOST_SEATS, '{"name": "Seat 1"}')
            seen: set[str] = set()
            for number, (where, entry) in enumerate(entries, start=1):
                seat = self._seat(number, where, entry)
                if seat.name:
                    needed = "a name of its own for each seat"
                    self.once(f"{where}, name", seat.name, seen, needed)
                yield seat

    def _seat(self, number: int, where: str, entry: Mapping[str, Any]) -> Seat:
        sun = entry.get("sun_afterwards", False)
        if not isinstance(sun, bool):
            self.add(f"{where}, sun_afterwards", quoted(sun), "true or false")
        some = "one of " + ", ".join(WEARERS)
        wearers, dislikes = entry.get("wearers", ()), entry.get("dislikes", ())
        oils = catalogue.oil_ids()
        both = (*oils, *catalogue.carrier_ids(), "")
        known = self._words(f"{where}, wearers", wearers, tuple(WEARERS), some)
        if TOO_YOUNG in known:
            fix = "Nothing of this class goes on a child under three: give this seat no bottle."
            self.add(f"{where}, wearers", quoted(TOO_YOUNG), "three years or older", fix)
        return Seat(
            number,
            self._one_line(f"{where}, name", entry.get("name", "")),
            known,
            bool(sun),
            self._words(f"{where}, dislikes", dislikes, oils, "an id on record"),
            self._share(f"{where}, strength_cap", entry.get("strength_cap")),
            *(
                self._words(f"{where}, {key}", entry.get(key, ()), both, "an id on record")
                for key in ("leaves_out", "marked")
            ),
        )

    def _share(self, where: str, value: object) -> float | None:
        """A share above 0 and up to 1, or None where nothing was typed. [-]"""
        if value is None:
            return None
        share = attempt(self.problems, to_si, value, "dimensionless", name=where)
        if share is not None and not 0 < share <= 1:
            self.add(where, quoted(value), 'above 0 % and up to 100 %, such as "5 %"')
        return share

    def _words(
        self, where: str, given: object, known: tuple[str, ...], needed: str
    ) -> tuple[str, ...]:
        if not isinstance(given, list | tuple) or len(given) > MOST_ENTRIES:
            self.add(where, quoted(given), f"a list of at most {MOST_ENTRIES}")
            return ()
        words = [self.choice(where, word, known, needed) for word in given]
        return tuple(dict.fromkeys(words))

    def _popularity(self, where: str, entry: Mapping[str, Any]) -> float:
        fix = "Leave out what nobody should pick."
        return self.positive(f"{where}, popularity", entry.get("popularity", 1), fix)

    def _base(self) -> dict[str, Any]:
        """The keys that a class and a blend have in common."""
        keys = (*_SIZE_KEYS, "strength", "drops_per_ml", "note_parts")
        return {key: self.document[key] for key in keys if key in self.document}

    def _carriers(self) -> object:
        given = self.document.get("carriers", [])
        if not isinstance(given, list | tuple):
            return given
        return [{"id": name} if isinstance(name, str) else name for name in given]

    def _check_carriers(self, carriers: tuple[CarrierPart, ...]) -> None:
        """Refuse what the card's proof, which fills up with plain carrier, would not count."""
        for part in carriers:
            held = [each.name for each, _ in parts_of(part.carrier) if isinstance(each, Oil)]
            if held := [*held, *steeped_in(part.carrier)]:
                got = f"{part.carrier.name}, with {', '.join(held)} in it"
                needed = "a carrier with nothing in it, since no card counts what is poured"
                self.add("carriers", got, needed, "Pour a plain carrier, and count drops.")

    def _all_carriers(self, blends: tuple[ClassBlend, ...]) -> object:
        """The carriers of all blends once each, then those of the class."""
        ids = [part.carrier.id for each in blends for part in each.blend.carriers]
        typed = self._carriers()
        others = [
            each
            for each in (typed if isinstance(typed, list) else [typed])
            if not isinstance(each, Mapping) or each.get("id") not in ids
        ]
        return [*({"id": name} for name in dict.fromkeys(ids)), *others]

    def _free_palette(self) -> tuple[tuple[PaletteOil, ...], Fields | None]:
        offers: dict[str, tuple[float, int]] = {}
        oils = []
        for where, entry in self.entries("oils", _OIL_KEYS, MOST_OILS):
            offers[text_of(entry.get("id"))] = (
                self._popularity(where, entry),
                self.whole(f"{where}, bottles", entry.get("bottles", 1), 1, 100),
            )
            oils.append({key: entry[key] for key in ("id", "note") if key in entry})
        base = {**self._base(), "carriers": self._carriers()}
        fields, problems = read_fields({**base, "oils": oils})
        self.problems += problems
        if fields is None:
            return (), None
        if fields.strength_fraction * fields.drops_that_fill < 0.5:
            self.add("strength", "not one drop of oil in a bottle", "at least one drop")
        parts = [(part.oil, part.note, *offers[part.oil.id]) for part in fields.oils]
        return _from_the_base([PaletteOil(*part) for part in parts]), fields

    def _blends(self) -> Iterator[ClassBlend]:
        if "blends" in self.document and not self.document["blends"]:
            self.add("blends", "none", "at least one blend, or oils to mix freely")
        for where, entry in self.entries("blends", _BLEND_KEYS, MOST_OILS, '{"blend": …}'):
            given = entry.get("blend")
            document = dict(given) if isinstance(given, Mapping) else {}
            own = {key: self.document[key] for key in _SIZE_KEYS if key in self.document}
            blend = self.attempt(where, Blend, document | own)
            popularity = self._popularity(where, entry)
            if blend is not None and blend.step_kg is not None:
                needed = "a blend by drops, which a class counts"
                self.add(where, "a blend by mass", needed, 'Leave out "by", "step" and masses.')
            elif blend is not None:
                yield ClassBlend(blend, popularity)

    def _set_palette(
        self, blends: tuple[ClassBlend, ...]
    ) -> tuple[tuple[PaletteOil, ...], Fields | None]:
        """The oils of all set blends together, each with the note it has first."""
        first = blends[0].blend.to_dict()
        fields, problems = read_fields({**first, "carriers": self._all_carriers(blends)})
        self.problems += problems
        if fields is None:
            return (), None
        fields = _combine(blends, fields)
        oils = self.entries("oils", _OIL_KEYS, MOST_OILS)
        bottles = {text_of(entry.get("id")): entry.get("bottles", 1) for _, entry in oils}
        palette = [
            PaletteOil(
                part.oil, part.note,
                sum(each.popularity for each in blends if part.oil.id in each.blend.oil_drops),
                self.whole(f"{part.oil.id}, bottles", bottles.get(part.oil.id, 1), 1, 100),
            )
            for part in fields.oils
        ]  # fmt: skip
        return _from_the_base(palette), fields


def _combine(blends: tuple[ClassBlend, ...], fields: Fields) -> Fields:
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
    most = max(each.blend.total_drops / each.blend.drops_that_fill for each in blends)
    return min(most, 1.0)


def _from_the_base(oils: list[PaletteOil]) -> tuple[PaletteOil, ...]:
    """In mixing order: base, middle, top."""
    order = tuple(reversed(NOTES))
    return tuple(sorted(oils, key=lambda each: order.index(each.note)))
