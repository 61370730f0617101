"""The blend in hand on a panel: shown, changed, undone, and followed from other notebooks.

A panel shows what is in hand, and over it what its own boxes hold and the hand does not: what
was not written yet, and what was refused. Both go by their own keys.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Protocol

import ipywidgets as widgets

from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.blend.changes import apply, changes
from blendkit.evaporation.conditions import Conditions
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.journal.errors import CannotJournal
from blendkit.keeping import hand
from blendkit.keeping.hand import Document, Hand
from blendkit.panels.bottle.blend_editor import BlendEditor
from blendkit.panels.kit.deferred import Deferred
from blendkit.panels.kit.message import raise_flag
from blendkit.panels.kit.parts import Message, button, number_of
from blendkit.panels.kit.watch import Watch

WRITE_SECONDS = 0.2  # between two writes while a slider is held


class HoldsBlend(Protocol):
    """A panel with a blend on it."""

    blend: Blend
    editor: BlendEditor
    hand: InHand
    message: Message
    refresh: Callable[..., None]

    def is_sound(self, document: Document) -> bool:
        """Whether a document can be in hand, as far as this panel can tell."""

    def show(self, blend: Blend) -> None:
        """Put another blend on the panel."""


class InHand:
    """Ties a panel to the blend in hand.

    Parameters
    ----------
    panel : HoldsBlend
    blend : Blend, document, or path, optional
        A blend of the panel's own, which is not the one in hand.

    Attributes
    ----------
    watch : Watch
        Signals of the page; goes into the panel's frame.
    settings : dict of (str, ...) to Widget or SlidingNumber
        Further controls that belong to what is in hand, by their keys, such as
        ("day", "film"). Added before the panel is laid out.
    present : Hand
    trouble : str
        Why the last change could not be written; empty where all is well.
    is_putting : bool
        While the controls are set from what is in hand.
    view, undo_button, redo_button, take_button : widgets
        The buttons, in a row; `take_button` shows with a blend of the panel's own only.
    """

    def __init__(self, panel: HoldsBlend, blend: BlendLike | None = None) -> None:
        self.panel = panel
        self.is_own = blend is not None
        self.settings: dict[tuple[str, ...], Any] = {}
        self._defaults: dict[tuple[str, ...], Any] = {}
        self.trouble, self.is_putting, self._is_following = "", False, False
        self._write = Deferred()
        self.changed: Callable[[], None] = lambda: None  # what is in hand, or its state
        own = None if blend is None else Hand({"blend": as_blend(blend).to_dict()})
        self.present = own or hand.in_hand()
        self.watch = Watch()
        guard = panel.message.guard
        self.undo_button = button("↶ Undo", guard(self.undo))
        self.redo_button = button("↷ Redo", guard(self.redo))
        self.take_button = button("Take in hand", guard(self.take))
        self.view = widgets.HBox([self.undo_button, self.redo_button, self.take_button])
        for kind, action in (("undo", self.undo), ("redo", self.redo), ("written", self.look)):
            self.watch.on(kind, guard(action))
        self.watch.on("release", guard(self._write.finish))

    def begin(self) -> None:
        """Show the settings that are in hand; the panel has all its controls now."""
        self._defaults = {key: _value(control) for key, control in self.settings.items()}
        self._put(self.present.document)
        self._shown = self._document
        self._say_state()

    @property
    def _document(self) -> dict[str, Any]:
        """What the controls show, good or bad, with what other panels have in hand."""
        document = {**self.present.document, "blend": self.panel.editor.document}
        for (*places, last), control in self.settings.items():
            key, value, place = (*places, last), _value(control), document
            if value != self._defaults.get(key) or _find(document, key) is not None:
                for name in places:
                    place[name] = dict(place.get(name, {}))
                    place = place[name]
                place[last] = value
        return document

    def change(self) -> None:
        """Something on the panel changed: write it soon, and at once when a press ends."""
        if self._is_following:
            return
        if self.is_own or self._document == self._shown:
            self.changed()
            return
        seconds = WRITE_SECONDS if self.watch.is_held else Deferred.SECONDS
        self._write.ask(self.panel.message.guard(self.write), seconds)

    def write(self, what: str = "") -> None:
        """Write what the controls show and the hand does not; where that fails, say so."""
        wanted = self._document
        if self.is_own or wanted == self._shown:
            return
        try:
            now = hand.record(
                self._shown, wanted, self.panel.is_sound, press=self.watch.press, what=what
            )
            self.trouble = ""
        except CannotJournal as error:
            self.trouble = str(error)
            self._say_state()
        else:
            self.follow(now)

    def look(self) -> None:
        """Show what is in hand now, whichever notebook wrote it."""
        if self.is_own:
            return
        if not self.watch.is_held:
            self._write.finish()
        now = hand.in_hand()
        if now.said:
            self.panel.message.say(now.said)
        elif now.turn != self.present.turn:
            self.follow(now)

    def undo(self) -> None:
        """Undo the last step, of whichever notebook."""
        self._walk(hand.undo)

    def redo(self) -> None:
        """Do again what was undone last."""
        self._walk(hand.redo)

    def take(self) -> None:
        """Put the panel's own blend in hand."""
        document = Blend(self.panel.editor.document).to_dict()
        self.is_own, self.present = False, hand.in_hand()
        self._shown = dict(self.present.document)
        self.write(f"took {document.get('name') or 'a blend'} in hand")

    def use(self, now: Hand) -> None:
        """Show what another call of `keeping.hand` just put in hand."""
        self.is_own = False
        self._shown = self._document  # in place of what the boxes hold
        self.follow(now)

    def _walk(self, step: Callable[[], tuple[Hand, str]]) -> None:
        if self.is_own:
            return
        self._write.finish()
        now, said = step()
        self.follow(now)
        self.panel.message.say(said)

    def follow(self, now: Hand) -> None:
        """Show what is in hand, under what the panel's own boxes hold."""
        own = self._document
        mine = changes(self._shown, own)
        self.present = now
        target = apply(mine, now.document)
        is_other = bool(changes(own, target))
        if is_other:
            self._put(target)
        after = self._document
        self._shown = after if not mine else apply(changes(target, now.document), after)
        if is_other:
            # following writes nothing, else two could go on for ever
            with raise_flag(self, "_is_following"):
                self.panel.refresh()
        self._say_state()

    def _put(self, document: Document) -> None:
        """Set the controls; nothing is calculated or written meanwhile."""
        editor = self.panel.editor
        with raise_flag(self, "is_putting"):
            for key, control in self.settings.items():
                value = _find(document, key)
                control.value = self._defaults[key] if value is None else value
            editor.put(document["blend"])
        # an oil that is added is counted by the maker's own dropper, where that is calibrated
        own = hand.own_drop_sizes(editor.document, further=True)
        editor.drop_sizes = {**own, **editor.drop_sizes}

    def _say_state(self) -> None:
        self.take_button.layout.display = None if self.is_own else "none"
        for each, words, of in (
            (self.undo_button, self.present.undoes, "undo"),
            (self.redo_button, self.present.redoes, "redo"),
        ):
            each.disabled = self.is_own or not words
            each.tooltip = f"{of}: {words}" if words else f"nothing to {of}"
        self.changed()


def day_in_hand(document: Document) -> tuple[Conditions, float, bool]:
    """Conditions of wear in a document, its hour, and whether the learnt clock counts.

    As `FadePanel` writes them; its defaults where nothing is written.

    Raises
    ------
    BadNumber
    """
    day = dict(document.get("day", {}))
    put_on_at = hour_of_day(str(day.pop("put_on_at", 9)))
    by_my_nose = day.pop("by_my_nose", True)
    return Conditions.read(**day), put_on_at, by_my_nose


def hour_of_day(text: str) -> float:
    """An hour as typed, at which it is put on."""
    hour = number_of(text)
    if isinstance(hour, str) or not 0 <= hour < 24:
        needed = "an hour of the day from 0 to 23.5, such as 9"
        raise BadNumber([Problem("put on at", quoted(text), needed)])
    return float(hour)


def _value(control: Any) -> Any:
    value = control.value
    return list(value) if isinstance(value, tuple) else value


def _find(document: Document, key: tuple[str, ...]) -> Any:
    value: Any = document
    for name in key:
        value = value.get(name) if isinstance(value, Mapping) else None
    return value
