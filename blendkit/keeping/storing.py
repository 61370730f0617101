"""How bottles on the shelf are stored, their peroxide tests, and until when to use them."""

from collections.abc import Iterator
from datetime import date, datetime
from typing import Any, NamedTuple

from blendkit.foundation.errors import BadNumber, Problem, attempt, quoted, refuse_any
from blendkit.foundation.units import read_day, to_si
from blendkit.journal.records import PurchaseRow, StoringRow
from blendkit.journal.store import Journal, now
from blendkit.keeping.stock_entries import current_stock, opening_days
from blendkit.materials.amounts import material
from blendkit.materials.catalogue import known_ids
from blendkit.skin.freshness import Peroxides, Storing, headspace, judge_peroxides, places
from blendkit.skin.keeping_times import UseBy, old_stock


class Freshness(NamedTuple):
    """What is known of the freshness of the shelf.

    Attributes
    ----------
    use_by : dict of str to UseBy
        Opened bottles by material, the earliest day first.
    tests : dict of str to Peroxides
        The newest test of each material, its day and lot in the words.
    """

    use_by: dict[str, UseBy]
    tests: dict[str, Peroxides]

    @property
    def spoilt(self) -> set[str]:
        """Materials to discard: past their day, or with peroxides over a limit."""
        over = {name for name, test in self.tests.items() if test.over}
        return over | {name for name, bottle in self.use_by.items() if bottle.is_past}


def keep_storing(
    journal: Journal, material_id: str, storing: Storing, opened_on: str = ""
) -> StoringRow:
    """Enter how the bottle in use is stored, and when it was opened.

    Parameters
    ----------
    journal : Journal
    material_id : str
    storing : Storing
        Its headspace is not kept: the stock shows it.
    opened_on : str, optional
        "YYYY-MM-DD"; what is on record where empty.

    Raises
    ------
    BadNumber
        A place that is none of `places()`, or no day up to today.
    UnknownMaterial, CannotJournal
    """
    problems: list[Problem] = []
    day = attempt(problems, _past_day, "opened on", opened_on) if opened_on else None
    if storing.place not in places():
        needed = "one of " + "; ".join(places())
        problems.append(Problem("place", quoted(storing.place), needed))
    row = _add(journal, material_id, storing._asdict() | {"headspace": None}, problems)
    if day:  # of no size: a note on a bottle
        journal.add(PurchaseRow(material=row.material, opened_on=day, entered_at=now()))
    return row


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
    problems: list[Problem] = []
    attempt(problems, _past_day, "tested on", tested_on)
    value = attempt(problems, to_si, peroxides, "mol/m**3", name="peroxides")
    if value is not None and value < 0:
        problems.append(Problem("peroxides", quoted(peroxides), "0 mmol/L or more"))
    document = {"peroxides_mmol_per_l": value, "tested_on": tested_on, "lot": lot.strip()}
    return _add(journal, material_id, document, problems)


def storing_entries(journal: Journal) -> Iterator[tuple[datetime, str, str, str]]:
    """When each was entered, its material, the entry in a few words, and its id."""
    known = known_ids()
    for row in journal.all(StoringRow):
        if row.material in known:
            peroxides = f"peroxides {row.document.get('peroxides_mmol_per_l')} mmol/L"
            place = row.document.get("place")
            yield row.kept_at, row.material, f"stored: {place}" if place else peroxides, row.id


def storings(journal: Journal) -> dict[str, Storing]:
    """How each material is stored, with the headspace that the stock shows."""
    known = {}
    for row in journal.all(StoringRow):
        place, *ticks = map(row.document.get, ("place", "in_daylight", "has_antioxidant"))
        if place in places():
            known[row.material] = Storing(str(place), *map(bool, ticks))
    for name, line in current_stock(journal).items():
        if line.bottle_m3 and line.left_m3 >= 0:
            share = headspace(line.left_m3, line.bottle_m3)
            known[name] = known.get(name, Storing())._replace(headspace=share)
    return known


def freshness(journal: Journal) -> Freshness:
    """Until when to use what is open, oldest first, and the newest peroxide tests."""
    today, known, tests = date.today(), known_ids(), {}
    days = opening_days(journal).items()
    opened = {name: day for name, day in days if day <= today and name in known}
    for row in journal.all(StoringRow):
        value = row.document.get("peroxides_mmol_per_l")
        if isinstance(value, int | float) and row.material in known:
            found = judge_peroxides(row.material, value)
            lot = f", lot {row.document['lot']}" if row.document.get("lot") else ""
            words = f"{found.words}. Tested {row.document.get('tested_on')}{lot}."
            tests[row.material] = found._replace(words=words)
    bottles = old_stock(opened, today, storings(journal))
    return Freshness({bottle.material: bottle for bottle in bottles}, tests)


def _add(
    journal: Journal, material_id: str, document: dict[str, Any], problems: list[Problem]
) -> StoringRow:
    refuse_any(problems)
    row = StoringRow(material=material(material_id).id, document=document, kept_at=now())
    return journal.add(row)[0]


def _past_day(name: str, text: str) -> date:
    if (day := read_day(text, name)) > date.today():
        raise BadNumber([Problem(name, quoted(text), "a date up to today, YYYY-MM-DD")])
    return day
