"""Handovers and the people who got bottles: writing them down, and forgetting somebody."""

import json
from collections.abc import Mapping
from datetime import date
from typing import Any

from blendkit.foundation.errors import BadNumber, Problem, attempt, quoted, refuse_any
from blendkit.foundation.units import is_whole_number, read_day
from blendkit.journal.forgetting import Cleaned, exports_with
from blendkit.journal.insertion import insert, new_id
from blendkit.journal.people_table import FIELDS, REACTION, Person, put_person, read_people
from blendkit.journal.records import HandoverRow
from blendkit.journal.store import Journal
from blendkit.selling.trace import Trail

FORGOTTEN, UNNAMED = "somebody, forgotten", "somebody"
MOST_TYPED = 50_000  # characters about one person


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
    problems: list[Problem] = []
    if not is_whole_number(bottles, 1, trail.here):
        fix = f"{trail.here} of {trail.bottles} are left of lot {trail.batch.lot}."
        problems.append(Problem("bottles", quoted(bottles), "a whole number that is left", fix))
    day = attempt(problems, read_day, handed_on.strip() or date.today(), "handed over on")
    new = {} if isinstance(person, str) else {**_stripped(person, FIELDS), "reactions": {}}
    problems += _too_long(new)
    if problems or day is None:
        raise BadNumber(problems)
    id = person if isinstance(person, str) else new_id()
    of = trail.batch.id
    row = HandoverRow(batch_id=of, person=id, way=way, bottles=bottles, handed_on=day)
    with journal.transaction() as store:
        if new:
            put_person(store, id, new)
        return insert(store, row)


def note_reaction(journal: Journal, id: str, reaction: Mapping[str, str]) -> None:
    """Enter what a person reported, with texts of `people_table.REACTION`.

    Raises
    ------
    BadNumber
        Nothing was typed, a date is none, or the person was forgotten. Nothing was kept.
    CannotJournal
    """
    problems = [] if reaction["what"].strip() else [Problem("what", "nothing", "a few words")]
    for key in ("noticed_on", "heard_on"):
        attempt(problems, read_day, reaction[key], key.replace("_", " "))
    with journal.transaction() as store:
        document = {each.id: each.document for each in read_people(store)}.get(id)
        if not document:
            raise BadNumber([*problems, Problem("person", FORGOTTEN, "somebody on record")])
        document["reactions"][new_id()] = _stripped(reaction, REACTION)
        refuse_any([*problems, *_too_long(document)])
        put_person(store, id, document)


def forget_person(journal: Journal, id: str) -> Cleaned:
    """Forget a person's name, contact and reports; the trail of the lot stays.

    Raises
    ------
    CannotJournal
        Nothing was changed.
    """
    exports = exports_with(journal.path.parent, id)
    done = journal.forget(id)
    theirs = (f"{file}: an export, which is yours to delete" for file in exports)
    return done._replace(not_reached=(*done.not_reached, *theirs))


def _stripped(texts: Mapping[str, str], names: tuple[str, ...]) -> dict[str, Any]:
    return {name: texts.get(name, "").strip() for name in names}


def _too_long(document: Mapping[str, Any]) -> list[Problem]:
    length = len(json.dumps(document))
    needed = f"at most {MOST_TYPED} about one person"
    return [Problem("text", f"{length} characters", needed)] if length > MOST_TYPED else []
