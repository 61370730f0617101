"""How bottles on the shelf are stored, their peroxide tests, and until when to use them."""

from __future__ import annotations

from datetime import date
from typing import Any, NamedTuple

from blendkit.foundation.errors import BadNumber, Problem, attempt, near_miss, quoted
from blendkit.foundation.units import YEARS, to_si
from blendkit.journal.records import StoringRow
from blendkit.journal.store import Journal, now
from blendkit.keeping.stock_entries import current_stock, day_of, opening_days
from blendkit.materials.amounts import material
from blendkit.materials.catalogue import known_ids
from blendkit.skin.freshness import Peroxides, Storing, headspace, judge_peroxides, places
from blendkit.skin.keeping_times import UseBy, old_stock

_DATE = f"a date from {YEARS.start} up to today, YYYY-MM-DD"


class PeroxideTest(NamedTuple):
    """The newest peroxide test of a material."""

    material: str
    lot: str
    tested_on: date
    found: Peroxides

    def __str__(self) -> str:
        lot = f", lot {self.lot}" if self.lot else ""
        return f"{self.found.words}. Tested {self.tested_on}{lot}."


class Freshness(NamedTuple):
    """What is known of the freshness of the shelf.

    Attributes
    ----------
    use_by : dict of str to UseBy
        Opened bottles by material, the earliest day first.
    tests : dict of str to PeroxideTest
    """

    use_by: dict[str, UseBy]
    tests: dict[str, PeroxideTest]

    @property
    def spoilt(self) -> set[str]:
        """Materials to discard: past their day, or with peroxides over a limit."""
        over = {name for name, test in self.tests.items() if test.found.over}
        return over | {name for name, bottle in self.use_by.items() if bottle.is_past}


def keep_storing(
    journal: Journal,
    material_id: str,
    place: str,
    *,
    in_daylight: bool = False,
    has_antioxidant: bool = False,
    opened_on: str = "",
) -> StoringRow:
    """Enter how the bottle in use is stored.

    Parameters
    ----------
    journal : Journal
    material_id : str
    place : str
        One of `blendkit.skin.freshness.places`.
    in_daylight, has_antioxidant : bool, optional
    opened_on : str, optional
        "YYYY-MM-DD"; what is on record where empty.

    Raises
    ------
    BadNumber
        Another place, or no day up to today.
    UnknownMaterial, CannotJournal
    """
    problems = [] if not opened_on else _day_problems("opened on", opened_on)
    if place not in places():
        needed = "one of " + "; ".join(places())
        problems.append(Problem("place", quoted(place), needed, near_miss(place, places())))
    if problems:
        raise BadNumber(problems)
    document = {
        "place": place,
        "in_daylight": in_daylight,
        "has_antioxidant": has_antioxidant,
        "opened_on": opened_on,
    }
    return _add(journal, material_id, document)


def keep_peroxide_test(
    journal: Journal, material_id: str, peroxides: str, tested_on: str, lot: str = ""
) -> StoringRow:
    """Enter a peroxide value of a material.

    Parameters
    ----------
    journal : Journal
    material_id : str
    peroxides : str
        Such as "12 mmol/L".
    tested_on : str
        "YYYY-MM-DD".
    lot : str, optional

    Raises
    ------
    BadNumber
        No such amount of 0 or more, or no day up to today.
    UnknownMaterial, CannotJournal
    """
    problems = _day_problems("tested on", tested_on)
    value = attempt(problems, to_si, peroxides, "mol/m**3", name="peroxides")
    if value is not None and value < 0:
        problems.append(Problem("peroxides", quoted(peroxides), "0 mmol/L or more"))
    if problems:
        raise BadNumber(problems)
    document = {"peroxides_mmol_per_l": value, "tested_on": tested_on, "lot": lot.strip()}
    return _add(journal, material_id, document)


def storing_in_words(row: StoringRow) -> str:
    """What an entry says, in a few words."""
    if row.document.get("place"):
        return f"stored: {row.document['place']}"
    return f"peroxides {row.document.get('peroxides_mmol_per_l')} mmol/L"


def storings(journal: Journal) -> dict[str, Storing]:
    """How each material is stored, with the headspace that the stock shows."""
    known = {
        row.material: Storing(
            str(row.document["place"]),
            bool(row.document.get("in_daylight")),
            bool(row.document.get("has_antioxidant")),
        )
        for row in journal.all(StoringRow)
        if row.document.get("place") in places()
    }
    for name, line in current_stock(journal).items():
        if line.bottle_m3 and line.left_m3 >= 0:
            share = headspace(line.left_m3, line.bottle_m3)
            known[name] = known.get(name, Storing())._replace(headspace=share)
    return known


def freshness(journal: Journal) -> Freshness:
    """Until when to use what is open, oldest first, and the newest peroxide tests."""
    today = date.today()
    opened = {name: day for name, day in opening_days(journal).items() if day <= today}
    tests = {}
    for row in journal.all(StoringRow):
        value = row.document.get("peroxides_mmol_per_l")
        day = day_of(row.document.get("tested_on"))
        if isinstance(value, int | float) and day and row.material in known_ids():
            found = judge_peroxides(row.material, value)
            lot = str(row.document.get("lot", ""))
            tests[row.material] = PeroxideTest(row.material, lot, day, found)
    use_by = {bottle.material: bottle for bottle in old_stock(opened, today, storings(journal))}
    return Freshness(use_by, tests)


def _add(journal: Journal, material_id: str, document: dict[str, Any]) -> StoringRow:
    row = StoringRow(material=material(material_id).id, document=document, kept_at=now())
    return journal.add(row)[0]


def _day_problems(name: str, text: str) -> list[Problem]:
    day = day_of(text)
    return [] if day and day <= date.today() else [Problem(name, quoted(text), _DATE)]
