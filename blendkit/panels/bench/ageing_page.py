"""Ageing bottles: sniff reminders, impressions and photos, whose files stay where they are."""

import contextlib
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from blendkit.evaporation.nose_entries import LATEST_MINUTES, SMELLS, WHOLE
from blendkit.foundation.errors import BadNumber, Problem, near_miss, quoted
from blendkit.journal.records import Impression, Photo
from blendkit.journal.store import Journal, now
from blendkit.keeping.batch_records import KeptBatch, kept_batches
from blendkit.keeping.nose_logs import WEAR
from blendkit.keeping.open_store import the_journal
from blendkit.making.ageing import AGEING_ADVICE, days_in_words, remind
from blendkit.panels.bench.tray import Guard
from blendkit.panels.choosing.sniffing import name_box
from blendkit.panels.day.parts import notes_in
from blendkit.panels.kit import parts
from blendkit.showing.bench.fragments import impression_list
from blendkit.showing.bench.photos import photo_list
from blendkit.skin.check import options

_KINDS = [
    ("sniffed from the bottle or a blotter", "sniff"),
    ("worn on skin", WEAR),
    ("how it looks (maceration)", "maceration"),
]
MOST_DUE = 12
_PATH_ALONE = (
    "Only its path is kept; the file remains where it is. Moved or renamed, it is no longer "
    "found."
)
_NO_BOTTLE = Problem("bottle", "none", "a bottle that was kept as a version on this page")


class BadPhoto(BadNumber):
    """A photo whose path cannot be kept."""

    heading = "This photo's path was not kept"


def find_photo(typed: str) -> tuple[str, datetime]:
    """Find a file: its absolute path, and the time it was last written.

    Parameters
    ----------
    typed : str
        As typed, or as pasted in quotation marks; "~" is the maker's home folder.

    Raises
    ------
    BadPhoto
        There is no such file.
    """
    text = typed.strip().removeprefix('"').removesuffix('"')  # as some file managers copy it
    needed = "the path of a file on the computer that runs this workbook"
    if not text:
        raise BadPhoto([Problem("photo file", "nothing", needed)])
    path, why = Path(text), ""
    try:
        path = path.expanduser().absolute()
        if path.is_file():
            return str(path), datetime.fromtimestamp(path.stat().st_mtime).astimezone()
        why = "a folder" if path.is_dir() else "where no file is"
    except (OSError, OverflowError, RuntimeError, ValueError) as error:
        why = f"which cannot be looked at ({getattr(error, 'strerror', None) or error})"
    hint = ""
    with contextlib.suppress(OSError, ValueError):
        hint = near_miss(path.name, [each.name for each in path.parent.iterdir()])
    hint = hint or "Check whether it was moved or renamed, or is on a disk not plugged in."
    raise BadPhoto([Problem("photo file", f"{quoted(typed)}, {why}", needed, hint)])


class AgeingPage:
    """Sniff reminders, and a form for impressions.

    Parameters
    ----------
    guard : callable
        Wraps callbacks, as `Message.guard`.
    changed : callable
        Called after an entry.
    """

    def __init__(self, guard: Guard, changed: Callable[[], None]) -> None:
        self._changed = changed
        self._batches: dict[str, KeptBatch] = {}
        self.due = parts.Findings("Nothing is due today.")
        self.bottle = parts.choice("Bottle", [])
        self.days = widgets.HTML()
        self.kind = parts.choice("How", _KINDS)
        self.group = parts.choice("Which note", [(WHOLE, WHOLE)])
        ratings = (*SMELLS, *map(str, range(10, -1, -1)))
        asked = {
            "placeholder": "gone, weak, strongest, 0–10",
            "tooltip": "strength of the smell",
        }
        self.smell = name_box("Strength", "", "380px", options=ratings, **asked)
        self.minutes = parts.text_box("Minutes after", width="240px", placeholder="when worn")
        self.words = parts.text_box("In words", width="440px")
        self.list = widgets.HTML()
        self.entry = parts.choice("Entry", [])
        undo = parts.button("Undo this entry", guard(self.undo))
        self.path = parts.text_box("Photo file", width="440px", placeholder="… .jpg or .png")
        self.caption = parts.text_box("Caption", width="440px", placeholder="what it shows")
        self.photos = widgets.HTML()
        self.bottle.observe(guard(self.show_bottle), "value")
        self.view = parts.column(
            parts.heading("Due today"),
            self.due.view,
            self.bottle,
            self.days,
            *(self.kind, self.group, self.smell, self.minutes, self.words),
            parts.row(parts.button("Record impression", guard(self.write_down))),
            self.list,
            parts.row(self.entry, undo),
            parts.hint(AGEING_ADVICE),
            parts.heading("Photos of this bottle"),
            self.path,
            self.caption,
            parts.row(parts.button("Add photo", guard(self.keep_photo))),
            parts.hint(_PATH_ALONE),
            self.photos,
        )

    def refresh(self) -> None:
        """List bottles and reminders; `CannotJournal` where they cannot be read."""
        kept, sniffed = kept_batches(), _days_sniffed(the_journal())
        self._batches = {one.row.id: one for one in kept}
        reminders = [
            remind(one.label, one.row.made_on, sniffed.get(one.row.id, []), date.today())
            for one in kept
        ]
        reminders = [sentence for sentence in reminders if sentence]
        left = len(reminders) - MOST_DUE
        self.due.show(reminders[:MOST_DUE] + ([f"And {left} more."] if left > 0 else []))
        parts.set_options(self.bottle, [(one.label, one.row.id) for one in kept])
        self.show_bottle()

    def show_bottle(self) -> None:
        """Show sniff days, impressions and photos of the chosen bottle."""
        kept = self._batches.get(self.bottle.value or "")
        self.photos.value = ""
        if kept is None:
            self.days.value = '<p class="bk-faint">No bottle was kept yet.</p>'
            self.list.value, self.entry.options = "", [("nothing", None)]
            return
        batch, journal = kept.row, the_journal()
        photos = journal.all(Photo, batch_id=batch.id)
        self.photos.value = photo_list(photos, journal.path.parent)
        impressions = journal.all(Impression, batch_id=batch.id)
        entries = [(_impression_label(one), one) for one in impressions[::-1]]
        bottle = (f"the bottle, lot {kept.lot}", batch)
        parts.set_options(self.entry, [("nothing", None), *entries, bottle])
        days = [one.happened_at.astimezone().date() for one in impressions]
        text = days_in_words(batch.made_on, days, date.today())
        self.days.value = f'<p class="bk-faint">{text}</p>'
        self.list.value = impression_list(impressions)
        blend = kept.version.blend()
        groups: list[tuple[str, Any]] = [("the whole", WHOLE)]
        groups += [(f"{note} note", note) for note in notes_in(blend)]
        parts.set_options(self.group, [*groups, *options(oil.id for oil in blend.base_oils)])

    def write_down(self) -> None:
        """Record an impression of the chosen bottle.

        Raises
        ------
        BadNumber
            Nothing typed, or a figure out of its range.
        CannotJournal
        """
        kept = self._batches.get(self.bottle.value or "")
        if kept is None:
            raise BadNumber([_NO_BOTTLE])
        smell, strength = self._read_strength()
        minutes = self._read_minutes()
        if not (smell or strength is not None or self.words.value.strip()):
            needed = "a strength, or some words"
            raise BadNumber([Problem("impression", "nothing", needed)])
        the_journal().add(
            Impression(
                kind=self.kind.value,
                happened_at=now(),
                group=self.group.value,
                smell=smell,
                strength=strength,
                minutes=minutes,
                words=self.words.value,
                batch_id=kept.row.id,
                version_id=kept.row.version_id,
            )
        )
        for box in (self.smell, self.minutes, self.words):
            box.value = ""
        self._changed()

    def keep_photo(self) -> None:
        """Record the path of a photo, for the chosen bottle and its version.

        Raises
        ------
        BadPhoto
            No bottle is chosen, or no file is there.
        CannotJournal
        """
        kept = self._batches.get(self.bottle.value or "")
        if kept is None:
            raise BadPhoto([_NO_BOTTLE])
        path, taken_at = find_photo(self.path.value)
        batch, caption = kept.row, self.caption.value.strip()
        about: dict[str, Any] = {"version_id": batch.version_id, "batch_id": batch.id}
        the_journal().add(Photo(path=path, taken_at=taken_at, caption=caption, **about))
        self.path.value = self.caption.value = ""
        self.show_bottle()

    def undo(self) -> None:
        """Withdraw the chosen impression, or the bottle with all of them; the rows stay."""
        if self.entry.value is not None:
            the_journal().withdraw(self.entry.value)
            self._changed()

    def _read_strength(self) -> tuple[str, float | None]:
        word = self.smell.value.strip().lower()
        if not word or word in SMELLS:
            return word, None
        rating = parts.number_of(word)
        if isinstance(rating, str) or not 0 <= rating <= 10:
            needed = f"one of {', '.join(SMELLS)}, or a number from 0 to 10"
            raise BadNumber([Problem("strength", quoted(self.smell.value), needed)])
        return "", float(rating)

    def _read_minutes(self) -> float | None:
        typed = self.minutes.value.strip()
        if not typed:
            return None
        minutes = parts.number_of(typed)
        if isinstance(minutes, str) or not 0 < minutes <= LATEST_MINUTES:
            needed = "minutes after applying it, above 0 and at most two days"
            raise BadNumber([Problem("minutes after", quoted(typed), needed)])
        return float(minutes)


def _impression_label(one: Impression) -> str:
    strength = one.smell or ("" if one.strength is None else f"{one.strength:g} of 10")
    words = " · ".join(filter(None, (one.group, strength, one.words)))
    return f"{one.happened_at.astimezone():%Y-%m-%d %H:%M}  {parts.shorten(words)}"


def _days_sniffed(journal: Journal) -> dict[str, list[date]]:
    days: dict[str, list[date]] = {}
    for one in journal.all(Impression):
        day = one.happened_at.astimezone().date()
        days.setdefault(one.batch_id or "", []).append(day)
    return days
