"""The bench log on its way into the journal: a tap is kept first and shown then.

Where the journal cannot take it, the tap waits here and goes in before the next one; nothing
that was tapped is lost while the page is open. Each event has its id before it is written, so
that one can be written again into a journal that was replaced, and never twice into one. What
takes an event back names it by its id: its place differs where another notebook wrote too.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from blendkit.foundation.errors import BadNumber
from blendkit.journal.errors import CannotJournal, JournalMoved
from blendkit.journal.insertion import new_id
from blendkit.journal.ledger import UnknownRecord
from blendkit.journal.records import BatchRow, EventRow, Session, Version
from blendkit.journal.store import Journal, now
from blendkit.keeping.open_store import the_journal
from blendkit.making import bench_events as events
from blendkit.making.bench_log import Bench

MOST_SESSIONS = 20  # offered to continue


@dataclass(frozen=True)
class Timed:
    """An event, when it happened, and the id of its row in the journal."""

    event: events.Event
    at: datetime
    id: str = field(default_factory=new_id)


class BenchRecord:
    """One session, in memory and in the journal.

    Attributes
    ----------
    bench : Bench
    timed : list of Timed
        Its events, in the order of the log.
    parent : Version or None
        The version that the session set out from.
    session : Session or None
        The session in the journal; None before the first tap.
    trouble : str
        Why the journal does not hold all of it; empty where all is well.
    """

    def __init__(self, document: Mapping[str, Any], version: Version | None = None) -> None:
        start = events.Start(document)
        self.bench = Bench.of([start])
        self.timed = [Timed(start, now())]
        self.trouble = ""
        self._written: set[str] = set()  # ids that the journal holds
        self.parent = version
        self.session: Session | None = None
        self._journal: Journal | None = None

    @classmethod
    def resumed(cls, session: Session) -> BenchRecord:
        """A session that the journal holds.

        Raises
        ------
        CannotJournal
        BadNumber
            It is no session of a bench.
        """
        journal = the_journal()
        timed = _events_of(journal, session)
        bench = Bench.of(one.event for one in timed)
        made = cls.__new__(cls)
        made.bench, made.timed, made.trouble = bench, timed, ""
        made._written = {one.id for one in timed}
        made.parent = journal.get(Version, session.version_id) if session.version_id else None
        made.session, made._journal = session, journal
        return made

    def add(self, event: events.Event) -> None:
        """Take one more event: into the journal where that can be, in memory anyhow.

        Raises
        ------
        BlendkitError
            The event cannot be; nothing was changed.
        """
        if isinstance(event, events.Undo) and 1 <= event.number <= len(self.timed):
            event = replace(event, of=self.timed[event.number - 1].id)
        self.catch_up()
        new = _resolved([*self.timed, Timed(event, now())])[-1]
        self.bench = self.bench.after(new.event)
        self.timed.append(new)
        self.write()

    @property
    def waiting(self) -> int:
        """How many events the journal does not hold yet."""
        return sum(one.id not in self._written for one in self.timed)

    def write(self) -> None:
        """Write what waits; where that cannot be, `trouble` says why."""
        try:
            try:
                self._write(the_journal())
            except JournalMoved:  # in this very moment; the file that is there now is opened
                self._write(the_journal())
            self.trouble = ""
        except CannotJournal as error:
            self.trouble = str(error)

    def _write(self, journal: Journal) -> None:
        self._settle(journal)
        if self.session is None:
            start = self.timed[0]
            assert isinstance(start.event, events.Start)
            title = str(start.event.document.get("name", ""))
            version_id = self.parent.id if self.parent else None
            self.session = journal.start_session(title, version_id=version_id, at=start.at)
        for one in self.timed:
            if one.id not in self._written:
                kind, details = events.as_document(one.event)
                journal.log(self.session, kind, details, one.at, one.id)
                self._written.add(one.id)

    def catch_up(self) -> None:
        """Take in what another notebook wrote into this session."""
        if self.session is None:
            return
        try:
            journal = the_journal()
            number = journal.count(EventRow, session_id=self.session.id)
            if journal is not self._journal or number == len(self._written):
                return
            held = _events_of(journal, self.session)
            ids = {one.id for one in held}
            if not ids <= {one.id for one in self.timed}:
                self.timed = _resolved([*held, *(o for o in self.timed if o.id not in ids)])
                self._written |= ids
                self.bench = Bench.of(one.event for one in self.timed)
        except CannotJournal as error:
            self.trouble = str(error)

    def tie(self, version: Version, batch: BatchRow) -> None:
        """Say in the journal what the session led to."""
        if self.session is not None:
            self.session = the_journal().correct(
                self.session, version_id=version.id, batch_id=batch.id
            )
        self.parent = version

    def _settle(self, journal: Journal) -> None:
        """After the journal itself was replaced: find out what the new one lacks."""
        if self._journal is not None and journal is not self._journal:
            version, self.parent = self.parent, None
            with contextlib.suppress(UnknownRecord):
                self.parent = journal.get(Version, version.id) if version else None
            if self.session is not None:
                version_id = self.parent.id if self.parent else None
                same = replace(self.session, version_id=version_id, batch_id=None)
                self.session = journal.put(same, same.id)
                rows = journal.all(EventRow, session_id=self.session.id)
                self._written = {row.id for row in rows}
        self._journal = journal


def _events_of(journal: Journal, session: Session) -> list[Timed]:
    rows = journal.all(EventRow, session_id=session.id)
    return _resolved(
        Timed(_event_of_row(row), row.happened_at.astimezone(), row.id) for row in rows
    )


def _resolved(timed: Iterable[Timed]) -> list[Timed]:
    """Events whose places were looked up again, where they name another event by its id."""
    found = list(timed)
    places = {one.id: place for place, one in enumerate(found, start=1)}
    return [
        replace(one, event=replace(one.event, number=places.get(one.event.of, 0)))
        if isinstance(one.event, events.Undo) and one.event.of
        else one
        for one in found
    ]


def _event_of_row(row: EventRow) -> events.Event:
    try:
        return events.event_of(row.kind, row.details)
    except BadNumber:  # from a newer version, or damaged: it keeps its place in the log
        return events.Remark(f"an event that is not understood here: {row.kind}")


def open_sessions(journal: Journal) -> Iterator[Session]:
    """Bench sessions to continue: begun, and not kept as a version; newest first.

    Raises
    ------
    CannotJournal
    """
    newest = journal.all(Session)[::-1][:MOST_SESSIONS]
    for session in newest:
        begun = journal.count(EventRow, session_id=session.id, kind=_START) == 1
        if begun and journal.count(EventRow, session_id=session.id) > 1:
            # only what was kept once has to be read: did anything happen after that?
            rows = journal.all(EventRow, session_id=session.id) if session.batch_id else []
            if not rows or rows[-1].kind != _SAVED:
                yield session


_START, _SAVED = (
    events.as_document(events.Start({}))[0],
    events.as_document(events.SavedAs("", 1))[0],
)
