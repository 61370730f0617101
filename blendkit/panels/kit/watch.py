"""Signals of the page that a panel is on: looked at, pressed, released, undo, redo.

While a panel is on screen, its page asks twice a second, and at once when it comes to the
front. Only then is the store asked whether anything was written, by whichever notebook.
"""

from collections.abc import Callable
from typing import Any

import anywidget

from blendkit.foundation.shipping import package_text
from blendkit.journal.errors import CannotJournal
from blendkit.journal.records import Record
from blendkit.keeping.open_store import the_journal
from blendkit.panels.kit.message import raise_flag

Action = Callable[..., None]


class Watch(anywidget.AnyWidget):
    """Listens for a panel; goes into its frame, and shows nothing.

    Attributes
    ----------
    press : str
        The pointer or key press that the newest changes come from; "" without a page.
    is_held : bool
        Whether it was not released yet.
    is_looking : bool
        While what was written is followed: an answer to a press is not taken off then.
    """

    _esm = package_text("panels/kit/watch.js")

    def __init__(self) -> None:
        super().__init__()
        self.press, self.is_held, self.is_looking = "", False, False
        self._seen: object = None
        self._marks: dict[tuple[tuple[type[Record], ...], Action], object] = {}
        self._actions: dict[str, Action] = {"look": self.look}
        self.on_msg(self._heard)

    def on(self, kind: str, action: Action) -> None:
        """Call back at "written", "release", "undo" or "redo"."""
        self._actions[kind] = action

    def follow(self, refresh: Action, *kinds: type[Record]) -> None:
        """Call back whenever anything of these kinds was written, in any notebook."""
        self._marks[kinds, refresh] = self._mark(kinds)

    def look(self, *_: Any) -> None:
        """Follow whatever was written since the last look."""
        try:
            journal = the_journal()
            seen = (journal.path, id(journal), journal.seen())
        except CannotJournal:
            return  # whatever is pressed says so
        if seen == self._seen:
            return
        self._seen = seen
        with raise_flag(self, "is_looking"):
            self._call("written")
            for (kinds, refresh), before in tuple(self._marks.items()):
                mark = self._mark(kinds)
                if mark != before:
                    self._marks[kinds, refresh] = mark
                    refresh()

    def _mark(self, kinds: tuple[type[Record], ...]) -> object:
        try:
            journal = the_journal()
            return id(journal), journal.written_of(*kinds)
        except CannotJournal:
            return None

    def _call(self, kind: str, *given: object) -> None:
        if action := self._actions.get(kind):
            action(*given)

    def _heard(self, _widget: object, message: dict[str, Any], _buffers: object) -> None:
        kind = message.get("kind", "")
        if kind == "press":
            self.press = str(message.get("press", ""))[:40]
        if kind in ("press", "release"):
            self.is_held = kind == "press"
        self._call(kind, message)
        if kind == "look":
            self.send({"looked": True})  # the page asks no sooner again
