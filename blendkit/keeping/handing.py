"""Handovers and the people who got bottles: writing them down, and forgetting somebody."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import is_whole_number
from blendkit.journal.forgetting import exports_with
from blendkit.journal.insertion import insert, new_id
from blendkit.journal.people_table import (
    FIELDS,
    LONGEST_DOCUMENT,
    REACTION,
    Person,
    put_person,
    read_people,
)
from blendkit.journal.records import HandoverRow
from blendkit.journal.rows import written
from blendkit.journal.store import Journal
from blendkit.keeping.stock_entries import day_of
from blendkit.selling.trace import Trail

FORGOTTEN, UNNAMED = "somebody, forgotten", "somebody"
_LONGEST_TEXT = 4000  # characters of what is typed about a person at once


class Forgotten(NamedTuple):
    """What became of a person's name, contact and reports.

    Attributes
    ----------
    cleaned : tuple of Path
        Copies of the store that were written again without them.
    not_reached : tuple of str
        Copies with the reason, and exports, which are the maker's to delete.
    """

    cleaned: tuple[Path, ...]
    not_reached: tuple[str, ...]


def people_on_record(journal: Journal) -> dict[str, Person]:
    """Everybody by id, also those forgotten, in the order of writing."""
    with journal.snapshot() as store:
        return {person.id: person for person in read_people(store)}


def name_of(people: Mapping[str, Person], id: str) -> str:
    """Name of a person; other words for one who has none or was forgotten."""
    person = people.get(id)
    if person is not None and person.forgotten:
        return FORGOTTEN
    return (person.document["name"] if person else "") or UNNAMED


def hand_out(
    journal: Journal,
    trail: Trail,
    way: str,
    bottles: Any,
    handed_on: str,
    person: str | Mapping[str, str],
) -> HandoverRow:
    """Enter bottles of a batch that went to somebody.

    Parameters
    ----------
    journal : Journal
    trail : Trail
        Of the batch.
    way : str
        "gift", "sale" or "tester".
    bottles : int
        1 or more, and no more than are left.
    handed_on : str
        A date; today where empty.
    person : str or mapping
        Id of somebody on record, or texts of `people_table.FIELDS` about somebody new.

    Raises
    ------
    BadNumber
        Lists everything that cannot be used. Nothing was kept.
    CannotJournal
    """
    problems = []
    if not is_whole_number(bottles, 1, trail.here):
        fix = f"{trail.here} of {trail.bottles} are left of lot {trail.batch.lot}."
        problems.append(Problem("bottles", quoted(bottles), "a whole number that is left", fix))
    day = day_of(handed_on.strip()) if handed_on.strip() else date.today()
    if day is None:
        problems.append(Problem("handed over on", quoted(handed_on), "a date, YYYY-MM-DD"))
    texts = {} if isinstance(person, str) else dict(person)
    problems += _too_long(texts)
    if problems or day is None:
        raise BadNumber(problems)
    id = person if isinstance(person, str) else new_id()
    row = HandoverRow(
        batch_id=trail.batch.id, person=id, way=way, bottles=bottles, handed_on=day
    )
    values = written(row)
    with journal.transaction() as store:
        if texts:
            put_person(store, id, {**_stripped(texts, FIELDS), "reactions": {}})
        return insert(store, HandoverRow, values)


def note_reaction(journal: Journal, person: Person, reaction: Mapping[str, str]) -> Person:
    """Enter what a person reported, with texts of `people_table.REACTION`.

    Raises
    ------
    BadNumber
        Nothing was typed, or a date is none. Nothing was kept.
    CannotJournal
    """
    problems = [Problem("what happened", "nothing", "a few words")]
    problems = [] if reaction["what"].strip() else problems
    for key in ("noticed_on", "heard_on"):
        if day_of(reaction[key].strip()) is None:
            words = key.replace("_", " ")
            problems.append(Problem(words, quoted(reaction[key]), "a date, YYYY-MM-DD"))
    problems += _too_long(reaction)
    reactions = {**person.document["reactions"], new_id(): _stripped(reaction, REACTION)}
    document = {**person.document, "reactions": reactions}
    if len(f"{document}") > LONGEST_DOCUMENT // 8:  # a character may take twelve in JSON
        problems.append(Problem("reactions", "very many", "a shorter text"))
    if problems:
        raise BadNumber(problems)
    with journal.transaction() as store:
        put_person(store, person.id, document)
    return person._replace(document=document)


def forget_person(journal: Journal, id: str) -> Forgotten:
    """Forget a person's name, contact and reports; the trail of the lot stays.

    Raises
    ------
    CannotJournal
        Nothing was changed.
    """
    exports = exports_with(journal.path.parent, id)
    done = journal.forget(id)
    theirs = (f"{file}: an export, which is yours to delete" for file in exports)
    return Forgotten(done.cleaned, (*done.not_reached, *theirs))


def _stripped(texts: Mapping[str, str], names: tuple[str, ...]) -> dict[str, str]:
    return {name: texts.get(name, "").strip() for name in names}


def _too_long(texts: Mapping[str, str]) -> list[Problem]:
    needed = f"at most {_LONGEST_TEXT}"
    return [
        Problem(name.replace("_", " "), f"{len(text)} characters", needed)
        for name, text in texts.items() if len(text) > _LONGEST_TEXT
    ]  # fmt: skip
