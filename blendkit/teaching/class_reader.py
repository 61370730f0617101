"""Reader of class documents: a `ClassPlan`, or every problem.

Nothing is computed here beyond turning text into numbers and materials.
"""

import copy
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from blendkit.blend.blend import Blend
from blendkit.blend.document import read_fields
from blendkit.blend.fields import CarrierPart, Fields
from blendkit.blend.market import Market
from blendkit.foundation.errors import Problem, attempt, quoted, text_of
from blendkit.foundation.field_reader import MOST_ENTRIES, FieldReader
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import is_whole_number, to_si
from blendkit.materials import catalogue
from blendkit.materials.catalogue import Oil, parts_of, steeped_in
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
_SIZE_KEYS = ("bottle", "headspace")  # a set blend takes those of the class
_BLEND_KEYS = (*_SIZE_KEYS, "strength", "drops_per_ml", "note_parts")  # as a blend has them
_KEYS = dict.fromkeys(
    (
        "name", "seats", "tables", "minutes", "budget", "currency", *_BLEND_KEYS, "oils",
        "carriers", "blends", "region", "use", "spillage", "sniffing_drops", "margin",
        "shopping", "kit", "starts_at",
        "figures",  # of older documents; both ends of every range count now
    ),
    False,
)  # fmt: skip
_SEAT_KEYS = dict.fromkeys(
    ("name", "wearers", "sun_afterwards", "dislikes", "strength_cap", "leaves_out", "marked"),
    False,
)
_OIL_KEYS = dict.fromkeys(("id", "note", "popularity", "bottles"), False)
_ENTRY_KEYS = dict.fromkeys(("blend", "popularity"), False)


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
        fields, oils = self._palette(blends)
        self._check_carriers(fields.carriers if fields else ())
        market = attempt(self.problems, Market, **self._given("region", "use"))
        self._check_rows("shopping")
        self._check_rows("kit")
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
            "spillage": self._share("spillage", get("spillage", USUAL_SPILLAGE), zero=True),
            "sniffing_drops": self.whole("sniffing_drops", drops, 0, 1000),
            "starts_at_min": self._starts_at(get("starts_at")),
            "margin": self._share("margin", get("margin", USUAL_MARGIN)),
        }

    def _given(self, *keys: str) -> dict[str, Any]:
        return {key: self.document[key] for key in keys if key in self.document}

    def _starts_at(self, value: object) -> int | None:
        """A time of day in minutes from midnight; None where nothing was typed."""
        if value in (None, ""):
            return None
        hours = r"([01]?\d|2[0-3])(?:[:.]([0-5]\d))?"
        found = re.fullmatch(hours, value.strip()) if isinstance(value, str) else None
        if found is None:
            self.add("starts at", quoted(value), 'a time of day such as "18:30"')
            return None
        return int(found[1]) * 60 + int(found[2] or 0)

    def _check_rows(self, key: str) -> None:
        """Check the shape of rows that were typed; `shopping` reads what is in them."""
        rows = self.document.get(key, [])
        is_list = isinstance(rows, list) and len(rows) <= MOST_ENTRIES
        if not is_list or not all(isinstance(row, dict) for row in rows):
            self.add(key, quoted(rows), f"a list of at most {MOST_ENTRIES} rows")

    def _one_line(self, where: str, value: object) -> str:
        return " ".join(self.name(where, value, LONGEST_NAME).split())

    def _share(self, where: str, value: object, *, zero: bool = False) -> float:
        """A share up to 1, and above 0 unless that is allowed. [-]"""
        share = attempt(self.problems, to_si, value, "dimensionless", name=where)
        if share is not None and not (0 < share <= 1 or (zero and share == 0)):
            range_ = "from 0 % to 100 %" if zero else "above 0 % and up to 100 %"
            self.add(where, quoted(value), f'{range_}, such as "10 %"')
        return 1.0 if share is None else share

    def _seats(self, given: object) -> Iterator[Seat]:
        count = len(given) if isinstance(given, list | tuple) else given
        if not is_whole_number(count, 1, MOST_SEATS):
            many = is_whole_number(count, MOST_SEATS)
            fix = "Plan several sittings." if many else ""
            self.add("seats", quoted(count), f"from 1 to {MOST_SEATS} seats", fix)
        elif count == given:
            yield from map(Seat, range(1, count + 1))
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
        oils = catalogue.oil_ids()
        known = {"wearers": tuple(WEARERS), "dislikes": oils}
        known |= dict.fromkeys(("leaves_out", "marked"), (*oils, *catalogue.carrier_ids(), ""))
        listed = {key: self._words(where, entry, key, known[key]) for key in known}
        cap = entry.get("strength_cap")
        if TOO_YOUNG in listed["wearers"]:
            fix = "Nothing of this class goes on a child under three: give this seat no bottle."
            self.add(f"{where}, wearers", quoted(TOO_YOUNG), "three years or older", fix)
        return Seat(
            number,
            self._one_line(f"{where}, name", entry.get("name", "")),
            sun_afterwards=bool(sun),
            strength_cap=None if cap is None else self._share(f"{where}, strength_cap", cap),
            **listed,
        )

    def _words(
        self, where: str, entry: Mapping[str, Any], key: str, known: Sequence[str]
    ) -> tuple[str, ...]:
        given, where = entry.get(key, ()), f"{where}, {key}"
        if not isinstance(given, list | tuple) or len(given) > MOST_ENTRIES:
            self.add(where, quoted(given), f"a list of at most {MOST_ENTRIES}")
            return ()
        letters = 'one of the conditions of the intake form, or their letters, such as "A G"'
        needed = letters if key == "wearers" else "an id on record"
        return tuple(dict.fromkeys(self.choice(where, word, known, needed) for word in given))

    def _popularity(self, where: str, entry: Mapping[str, Any]) -> float:
        fix = "Leave out what nobody should pick."
        return self.positive(f"{where}, popularity", entry.get("popularity", 1), fix)

    def _blends(self) -> Iterator[ClassBlend]:
        if "blends" in self.document and not self.document["blends"]:
            self.add("blends", "none", "at least one blend, or oils to mix freely")
        for where, entry in self.entries("blends", _ENTRY_KEYS, MOST_OILS, '{"blend": …}'):
            given = entry.get("blend")
            document = dict(given) if isinstance(given, Mapping) else {}
            blend = self.attempt(where, Blend, document | self._given(*_SIZE_KEYS))
            popularity = self._popularity(where, entry)
            if blend is not None and blend.step_kg is not None:
                needed = "a blend by drops, which a class counts"
                self.add(where, "a blend by mass", needed, 'Leave out "by", "step" and masses.')
            elif blend is not None:
                yield ClassBlend(blend, popularity)

    def _palette(
        self, blends: tuple[ClassBlend, ...]
    ) -> tuple[Fields | None, tuple[PaletteOil, ...]]:
        """The class as one blend of all its oils, and these from the base up."""
        offers, entries = dict[str, tuple[float, int]](), []
        for where, entry in self.entries("oils", _OIL_KEYS, MOST_OILS):
            bottles = self.whole(f"{where}, bottles", entry.get("bottles", 1), 1, 100)
            offers[text_of(entry.get("id"))] = self._popularity(where, entry), bottles
            entries.append({key: entry[key] for key in ("id", "note") if key in entry})
        document = {**self._given(*_BLEND_KEYS), "oils": entries}
        if blends:
            document = _in_one(blends)
        fields, problems = read_fields({**document, "carriers": self._carriers(blends)})
        self.problems += problems
        if fields is None:
            return None, ()
        if fields.strength_fraction * fields.drops_that_fill < 0.5:
            self.add("strength", "not one drop of oil in a bottle", "at least one drop")
        palette = []
        for part in sorted(fields.oils, key=lambda part: -NOTES.index(part.note)):
            popularity, bottles = offers.get(part.oil.id, (1.0, 1))
            if blends:
                having = (each for each in blends if part.oil.id in each.blend.oil_drops)
                popularity = sum(each.popularity for each in having)
            palette.append(PaletteOil(part.oil, part.note, popularity, bottles))
        return fields, tuple(palette)

    def _carriers(self, blends: tuple[ClassBlend, ...]) -> object:
        """The carriers of all set blends once each, then those of the class."""
        given = self.document.get("carriers", [])
        if not isinstance(given, list | tuple):
            if not blends:
                return given
            given = [given]
        ids = [part.carrier.id for each in blends for part in each.blend.carriers]
        named = [{"id": name} if isinstance(name, str) else name for name in given]
        others = [e for e in named if not isinstance(e, Mapping) or e.get("id") not in ids]
        return [*({"id": name} for name in dict.fromkeys(ids)), *others]

    def _check_carriers(self, carriers: tuple[CarrierPart, ...]) -> None:
        """Refuse what the card's proof, which fills up with plain carrier, would not count."""
        for part in carriers:
            held = [each.name for each, _ in parts_of(part.carrier) if isinstance(each, Oil)]
            if held := [*held, *steeped_in(part.carrier)]:
                got = f"{part.carrier.name}, with {', '.join(held)} in it"
                needed = "a carrier with nothing in it, since no card counts what is poured"
                self.add("carriers", got, needed, "Pour a plain carrier, and count drops.")


def _in_one(blends: tuple[ClassBlend, ...]) -> dict[str, Any]:
    """The document of a blend of all oils, each with the note it has first.

    It is as strong as the strongest of the blends, in the bottle of the class.
    """
    first = blends[0].blend.to_dict()
    notes: dict[str, str] = {}
    sizes: dict[str, float] = {}
    for each in blends:
        sizes |= each.blend.drops_per_ml
        for part in each.blend.oils:
            notes.setdefault(part.oil.id, part.note)
    most = max(each.blend.total_drops / each.blend.drops_that_fill for each in blends)
    return {
        **{key: first[key] for key in _SIZE_KEYS if key in first},
        "strength": f"{min(most, 1.0) * 100:.12g} %",
        "drops_per_ml": sizes,
        "note_parts": {note: 1 for note in NOTES if note in notes.values()},
        "oils": [{"id": oil_id, "note": note} for oil_id, note in notes.items()],
    }
