"""The blend in hand: one working document, shown by every panel, and one line of its steps.

Its keys: "blend", the blend document; "version", the id of the kept version it came from;
"wearers"; "day", the conditions of wear, and "price", the terms of sale, as typed. A change
is made on what somebody saw and goes to its own keys of what is in hand now. Bench log, stock
and lots are never touched.

What cannot be used never keeps a panel from opening: it is passed by, and that is said.
"""

import contextlib
import os
import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from blendkit.blend.blend import Blend
from blendkit.blend.changes import apply, as_rows, changes, from_rows, in_words, inverse
from blendkit.foundation.data import example_document
from blendkit.foundation.errors import BlendkitError
from blendkit.journal import hand_table
from blendkit.journal.errors import CannotJournal
from blendkit.journal.hand_table import HandRow, StepRow, read_hand, read_step
from blendkit.journal.ledger import UnknownRecord
from blendkit.journal.records import Version
from blendkit.journal.rows import UNREADABLE
from blendkit.journal.store import Journal
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.keeping.stock_entries import drop_sizes
from blendkit.keeping.versions import KeptVersion, kept_versions, with_versions
from blendkit.teaching.hand_in import CLASS_VARIABLE

Document = Mapping[str, Any]
NOTHING = "Nothing to undo.", "Nothing to redo."


@dataclass(frozen=True)
class Hand:
    """What is in hand at one moment.

    Attributes
    ----------
    document : mapping
    turn : int
        Number of this state; 0 where nothing was put in hand yet.
    undoes, redoes : str
        The step that undo takes back and that redo does again, in words; empty where none is.
    said : str
        Why something else is shown than what was in hand; empty where all is well.
    """

    document: Document = field(default_factory=lambda: {"blend": _example()})
    turn: int = 0
    undoes: str = ""
    redoes: str = ""
    said: str = ""

    @property
    def version(self) -> str | None:
        """Id of the kept version that it came from."""
        return self.document.get("version")


def in_hand() -> Hand:
    """What is in hand; else the newest kept blend that can be used; else the example."""
    said = ""
    try:
        journal = the_journal()
        hand, said = _read(journal)
        if hand is not None:
            return hand
        kept = kept_versions(journal)
    except CannotJournal as error:
        unread = f"What you kept cannot be read, so this is the invented example. {error}"
        return Hand(said=unread)
    for one in kept:
        try:
            one.blend()
        except BlendkitError as error:
            said = said or f"{one.label}, kept last, cannot be used. {error}"
            continue
        shown = f"{said} So this is {one.label}." if said else ""
        return Hand(_as_kept(one.version), said=shown)
    return Hand(said=f"{said} So this is the invented example." if said else "")


def _read(journal: Journal) -> tuple[Hand | None, str]:
    """What the store has in hand, or why it cannot be used."""
    try:
        with journal.snapshot() as store:
            row = read_hand(store)
            if row is None:
                return None, ""
            steps = read_step(store, row.step), read_step(store, row.step + 1)
        Blend(row.document.get("blend", {}))
    except BlendkitError as error:
        return None, f"The blend in hand cannot be used. {error}"
    except UNREADABLE as error:
        return None, f"The blend in hand cannot be read ({error})."
    return Hand(row.document, row.turn, *(_step_in_words(step) for step in steps)), ""


def record(
    seen: Document,
    wanted: Document,
    is_sound: Callable[[Document], bool],
    *,
    press: str = "",
    what: str = "",
) -> Hand:
    """Make a change that somebody made on what they saw, as one step of the line.

    Parameters
    ----------
    seen, wanted : mapping
        Documents before and after the change; keys that are in neither stay.
    is_sound : callable
        Whether a document can be in hand. Changes that cannot be are left out.
    press : str, optional
        Changes of one press are one step.
    what : str, optional
        The step in words; its changes, where left out.

    Raises
    ------
    CannotJournal
        Nothing was written.
    """
    journal = the_journal()
    with journal.transaction() as store:
        row = _row(store) or HandRow(dict(seen), 0, 0)
        now = _sound(seen, wanted, row.document, is_sound)
        last, number, before = read_step(store, row.step), row.step + 1, row.document
        if press and last and last.press == press and not read_step(store, number):
            number, before = last.id, apply(inverse(from_rows(last.changes)), before)
            what = what or last.what
        if now != row.document:
            made = changes(before, now)
            if made:
                hand_table.write_step(store, StepRow(number, as_rows(made), what, press))
            else:  # dragged back to where it was
                hand_table.drop_step(store, number)
            hand_table.write_hand(store, now, number if made else number - 1)
    return in_hand()


def _row(store: sqlite3.Connection) -> HandRow | None:
    """What is in hand; None where nothing is, or a damaged row."""
    with contextlib.suppress(*UNREADABLE):
        return read_hand(store)
    return None


def _sound(
    seen: Document, wanted: Document, present: Document, is_sound: Callable[[Document], bool]
) -> Document:
    """The document in hand after a change, as much of it as is sound."""
    made = changes(seen, wanted)
    now = apply(made, present)
    if is_sound(now):
        return now
    if is_sound(wanted):  # what was in hand cannot be used, or the two do not go together
        return {**present, **wanted}
    taken: dict[Any, Any] = {}
    for key, change in made.items():
        if is_sound(apply({**taken, key: change}, present)):
            taken[key] = change
    return apply(taken, present)


def undo() -> tuple[Hand, str]:
    """Take the last step back; what was undone, in words.

    Raises
    ------
    CannotJournal
    """
    return _walk(-1)


def redo() -> tuple[Hand, str]:
    """Do again what was undone last; see `undo`."""
    return _walk(1)


def _walk(way: int) -> tuple[Hand, str]:
    with the_journal().transaction() as store:
        row = _row(store)
        step = read_step(store, row.step + (way > 0)) if row else None
        made = None
        with contextlib.suppress(*UNREADABLE):
            made = from_rows(step.changes) if step else None
        if row is None or step is None or made is None:
            return in_hand(), NOTHING[way > 0]
        back = inverse(made) if way < 0 else made
        hand_table.write_hand(store, apply(back, row.document), row.step + way)
        said = step.what or in_words(back)
    return in_hand(), f"{'Undid' if way < 0 else 'Did again'}: {said}."


def open_version(kept: KeptVersion) -> Hand:
    """Take a kept version in hand, as a step that can be undone.

    Raises
    ------
    CannotJournal
    """
    seen = in_hand().document
    wanted = {**seen, **_as_kept(kept.version)}
    return record(seen, wanted, lambda _: True, what=f"opened {kept.label}")


def kept_as(present: Hand) -> Version | None:
    """The kept version that it came from; None where none is in the store."""
    with contextlib.suppress(CannotJournal, UnknownRecord):
        return the_journal().get(Version, present.version) if present.version else None
    return None


def is_as_kept(blend: Document, version: Version) -> bool:
    """True where a blend document is that of a version, by the present own materials."""
    return with_versions(blend) == version.document


def name_version(version: Version) -> Hand:
    """Say that what is in hand is this version, just kept; no step, since nothing changed.

    Own materials stay as they were chosen, so that undo finds them.

    Raises
    ------
    CannotJournal
    """
    document = {**in_hand().document, "version": version.id}
    if not is_as_kept(document["blend"], version):
        document |= _as_kept(version)
    with the_journal().transaction() as store:
        row = _row(store)
        hand_table.write_hand(store, document, row.step if row else 0)
    return in_hand()


def _example() -> dict[str, Any]:
    """The class's blend at a learner's seat; else the example, with the maker's droppers."""
    if os.environ.get(CLASS_VARIABLE):
        from blendkit.teaching.laptop import seat_blend  # only a class pays for this import

        if first := seat_blend():
            return first
    document = example_document()
    own = own_drop_sizes(document)
    return document | ({"drops_per_ml": {"default": 20, **own}} if own else {})


def own_drop_sizes(document: Document, *, further: bool = False) -> dict[str, float]:
    """Drop sizes of the maker's own droppers: a blend's oils, or all further ones. [1/mL]"""
    there = {oil["id"] for oil in document["oils"]}
    sizes: dict[str, float] = read_or(drop_sizes, {})
    return {name: size for name, size in sizes.items() if (name in there) is not further}


def _as_kept(version: Version) -> dict[str, Any]:
    return {"blend": version.document, "version": version.id}


def _step_in_words(step: StepRow | None) -> str:
    with contextlib.suppress(*UNREADABLE):
        return step.what or in_words(from_rows(step.changes)) or "a change" if step else ""
    return "a change"
