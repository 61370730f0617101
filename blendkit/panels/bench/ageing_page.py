"""Ageing bottles: sniff reminders and impressions."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import ipywidgets as widgets

from blendkit.evaporation.nose_entries import LATEST_MINUTES, SMELLS, WHOLE
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.schema import NOTES
from blendkit.journal.records import BatchRow, Impression
from blendkit.journal.store import Journal, now
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.versions import KeptVersion, kept_versions, lot_names
from blendkit.making.ageing import AGEING_ADVICE, days_in_words, remind
from blendkit.panels.bench.photo_box import PhotoBox
from blendkit.panels.bench.tray import Guard
from blendkit.panels.kit import parts
from blendkit.showing.bench.fragments import impression_list
from blendkit.skin.check import options

SNIFF, WEAR, MACERATION = "sniff", "wear", "maceration"
_KINDS = {
    "sniffed from the bottle or a blotter": SNIFF,
    "worn on skin": WEAR,
    "how it looks (maceration)": MACERATION,
}
MOST_DUE = 12


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
        self._batches: dict[str, BatchRow] = {}
        self._versions: dict[str, KeptVersion] = {}
        self._lots: dict[str, str] = {}
        self.due = parts.Findings("Nothing is due today.")
        self.bottle = parts.choice("Bottle", [])
        self.days = widgets.HTML()
        self.kind = parts.choice("How", list(_KINDS.items()))
        self.group = parts.choice("Which note", [(WHOLE, WHOLE)])
        self.smell = widgets.Combobox(
            options=(*SMELLS, *(str(rating) for rating in range(10, -1, -1))),
            description="Strength",
            placeholder="gone, weak, strongest, 0–10",
            tooltip="strength of the smell",
            layout=widgets.Layout(width="380px"),
            style={"description_width": parts.LABEL_WIDTH},
        )
        self.minutes = parts.text_box("Minutes after", width="240px", placeholder="when worn")
        self.words = parts.text_box("In words", width="440px")
        self.list = widgets.HTML()
        self.entry = parts.choice("Entry", [])
        undo = parts.button("Undo this entry", guard(self.undo))
        self.photos = PhotoBox(guard)
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
            self.photos.view,
        )

    def refresh(self) -> None:
        """List bottles and reminders; `CannotJournal` where they cannot be read."""
        journal = the_journal()
        self._lots = lot_names(journal)
        versions = {one.version.id: one for one in kept_versions(journal)}
        batches = [one for one in journal.all(BatchRow)[::-1] if one.version_id in versions]
        self._batches = {batch.id: batch for batch in batches}
        self._versions = {batch.id: versions[batch.version_id] for batch in batches}
        sniffed = _days_sniffed(journal)
        reminders = [
            remind(self._name(batch), batch.made_on, sniffed.get(batch.id, []), date.today())
            for batch in batches
        ]
        reminders = [sentence for sentence in reminders if sentence]
        left = len(reminders) - MOST_DUE
        self.due.show(reminders[:MOST_DUE] + ([f"And {left} more."] if left > 0 else []))
        parts.set_options(self.bottle, [(self._name(batch), batch.id) for batch in batches])
        self.show_bottle()

    def show_bottle(self) -> None:
        """Show sniff days, impressions and photos of the chosen bottle."""
        batch = self._batches.get(self.bottle.value or "")
        self.photos.show(batch)
        if batch is None:
            self.days.value = '<p class="bk-faint">No bottle was kept yet.</p>'
            self.list.value, self.entry.options = "", [("nothing", None)]
            return
        impressions = the_journal().all(Impression, batch_id=batch.id)
        entries = [(_impression_label(one), one) for one in impressions[::-1]]
        bottle = (f"the bottle, lot {self._lots[batch.id]}", batch)
        parts.set_options(self.entry, [("nothing", None), *entries, bottle])
        days = [one.happened_at.astimezone().date() for one in impressions]
        text = days_in_words(batch.made_on, days, date.today())
        self.days.value = f'<p class="bk-faint">{text}</p>'
        self.list.value = impression_list(impressions)
        blend = self._versions[batch.id].blend()
        used = {part.note for part in blend.oils}
        groups: list[tuple[str, Any]] = [("the whole", WHOLE)]
        groups += [(f"{note} note", note) for note in NOTES if note in used]
        parts.set_options(self.group, [*groups, *options(oil.id for oil in blend.base_oils)])

    def write_down(self) -> None:
        """Record an impression of the chosen bottle.

        Raises
        ------
        BadNumber
            Nothing typed, or a figure out of its range.
        CannotJournal
        """
        batch = self._batches.get(self.bottle.value or "")
        if batch is None:
            needed = "a bottle that was kept as a version on this page"
            raise BadNumber([Problem("bottle", "none", needed)])
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
                batch_id=batch.id,
                version_id=batch.version_id,
            )
        )
        for box in (self.smell, self.minutes, self.words):
            box.value = ""
        self._changed()

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

    def _name(self, batch: BatchRow) -> str:
        kept = self._versions[batch.id]
        return f"{kept.name} · version {kept.number} · lot {self._lots[batch.id]}"


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
