"""Papers of a batch: its record, decisions on it, looks at it; kept, and looks that are due.

Each is a `BatchPaperRow`, or a correction of one, so that a first entry stays readable (ISO
22716:2007, clause 17.3.4). Documents may come from an import and are read as untrusted.
"""

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any, NamedTuple

from blendkit.foundation.errors import Problem, refuse_any
from blendkit.foundation.units import counted
from blendkit.journal.records import BatchPaperRow, BatchRow, Impression
from blendkit.journal.store import Journal
from blendkit.making.ageing import list_reminders

RECORD, RELEASE, STABILITY = "record", "release", "stability"
RELEASED = "released"
DECISIONS = (RELEASED, "held back", "rejected")
CLOUDING = ("clear", "hazy", "cloudy", "drops or sediment")
LONGEST = 120  # characters of a typed entry, so that a record stays on one page
LOOK_DAYS = (7, 28, 91, 182, 273, 365, 548, 730, 1095)
LOOK_DAYS_SOURCE = (
    "Day 7 and 28: common practice, no published source. From day 91, every 3 months in the "
    "first year, every 6 in the second, then yearly: borrowed from medicines, ICH Q1A(R2), "
    "2003, Testing Frequency (part-read, in a copy). ISO/TR 18811:2018 leaves the plan to the "
    "maker (part-read, its scope)."
)


class Look(NamedTuple):
    """One look at a kept batch."""

    day: date
    colour: str
    clouding: str
    smell: str
    words: str


def texts(value: object) -> dict[str, str]:
    """A mapping with text in every place, whatever a file held."""
    return {str(k): str(v) for k, v in value.items()} if isinstance(value, Mapping) else {}


def papers(journal: Journal, batch: BatchRow, kind: str) -> list[BatchPaperRow]:
    """Papers of one kind about a batch that hold, oldest first."""
    return journal.all(BatchPaperRow, batch_id=batch.id, kind=kind)


def keep_paper(
    journal: Journal, batch: BatchRow, kind: str, document: Mapping[str, Any], day: date
) -> bool:
    """Keep a paper of a batch; a second record corrects the first. True where anything is new.

    Raises
    ------
    BadNumber
        The day is before the batch was made, nobody answers for a decision, or an entry is too
        long for the page.
    CannotJournal
    """
    problems = []
    if day < batch.made_on:
        needed = f"{batch.made_on} or later: the batch was made that day"
        problems.append(Problem(f"day of the {kind}", f"{day}", needed))
    if kind == RELEASE and not document.get("by"):
        needed = "the name of who answers for the decision"
        problems.append(Problem("decision by", "nobody", needed))
    rows = [document, document.get("weighed", {}), document.get("checks", {})]
    needed = f"at most {LONGEST} characters, so that a record stays on one page"
    entries = [(key, text) for row in rows for key, text in row.items()]
    problems += [
        Problem(key, counted(len(text), "character"), needed)
        for key, text in entries
        if isinstance(text, str) and len(text) > LONGEST
    ]
    refuse_any(problems)
    kept = papers(journal, batch, kind) if kind == RECORD else []
    if kept and kept[-1].document == document:
        return False
    if kept:
        journal.correct(kept[-1], document=dict(document), dated_on=day)
    else:
        row = BatchPaperRow(batch_id=batch.id, kind=kind, document=dict(document), dated_on=day)
        journal.add(row)
    return True


def looks(journal: Journal, batch: BatchRow) -> list[Look]:
    """Looks at a batch with sniffs and macerations of notebook 06 among them, oldest first."""
    kept = [
        Look(row.dated_on, *(texts(row.document).get(key, "") for key in Look._fields[1:]))
        for row in papers(journal, batch, STABILITY)
    ]
    sniffed = [
        Look(one.happened_at.astimezone().date(), "", "", one.smell, one.words)
        for one in journal.all(Impression, batch_id=batch.id)
        if one.kind != "wear"
    ]
    return sorted([*kept, *sniffed], key=lambda look: look.day)


def looks_due(journal: Journal, batches: Mapping[str, BatchRow], today: date) -> Iterator[str]:
    """Sentences on batches to look at now, of those with a paper.

    Parameters
    ----------
    journal : Journal
    batches : mapping of str to BatchRow
        By the words that name each.
    today : date
    """
    with_paper = {row.batch_id for row in journal.all(BatchPaperRow)}
    for name, batch in batches.items():
        days = [look.day for look in looks(journal, batch)] if batch.id in with_paper else []
        for one in list_reminders(batch.made_on, days, today, LOOK_DAYS):
            if one.state == "due" and batch.id in with_paper:
                yield f"{name}: look of day {one.day}, due since {one.due_on}."
