"""The message line: every failure ends as a sentence, seen at the button that was pressed."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html import escape
from typing import Any
from weakref import WeakKeyDictionary

import ipywidgets as widgets

from blendkit.foundation.defects import in_one_line, where_recorded
from blendkit.foundation.errors import BlendkitError, Refused
from blendkit.panels.kit.style import STALE

_places: WeakKeyDictionary[Any, widgets.HTML] = WeakKeyDictionary()


def answer_place(*controls: widgets.Widget) -> tuple[widgets.HTML, ...]:
    """A place for the answers to the buttons among some controls; none without a button."""
    buttons = [one for one in controls if isinstance(one, widgets.Button | widgets.FileUpload)]
    if not buttons:
        return ()
    place = widgets.HTML().add_class("bk-answer")
    _places.update(dict.fromkeys(buttons, place))
    return (place,)


def grey(box: widgets.Box, *, stale: bool) -> None:
    """Grey a result out while the input above it cannot be used."""
    (box.add_class if stale else box.remove_class)(STALE)


@contextmanager
def raise_flag(owner: object, flag: str) -> Iterator[None]:
    """Set an attribute to True while a block runs, and to False after it."""
    setattr(owner, flag, True)
    try:
        yield
    finally:
        setattr(owner, flag, False)


class Message:
    """One line that says in words what went well and what did not.

    Where a press made it speak, and its button has a place for answers, it is seen there.

    Attributes
    ----------
    view : ipywidgets.Widget
    is_refusal : bool
        Whether what it says now is that something did not go well.
    """

    def __init__(self) -> None:
        self.view = widgets.HTML()
        self.is_refusal = False
        self._at_work = False
        self._place: widgets.HTML | None = None  # at the button that is being answered
        self._answer: widgets.HTML | None = None  # where the last answer was shown

    def say(self, text: str) -> None:
        """Say that something worked."""
        self._show(f"<div>{escape(text)}</div>" if text else "", refusal=False)

    def work(self, text: str) -> None:
        """Say what is being worked at, with a bar that moves until something else is said."""
        self._show(f"<label>{escape(text)} <progress></progress></label>", refusal=False)
        self._at_work = True

    def refuse(self, error: BlendkitError, *results: widgets.Box) -> None:
        """Say what is wrong, problem by problem, and grey the results that it makes stale."""
        for box in results:
            grey(box, stale=True)
        if isinstance(error, Refused):
            items = "".join(f"<li>{escape(sentence)}</li>" for sentence in error.sentences)
            kept = "The last good result is greyed." if results else ""
            self._show(f"<b>{escape(error.heading)}.</b> {kept}<ul>{items}</ul>", refusal=True)
        else:
            self._show(f"<b>Not done.</b> {escape(str(error))}", refusal=True)

    def _show(self, html: str, *, refusal: bool) -> None:
        kind = "bk-message bk-refusal" if refusal else "bk-message"
        live = "assertive" if refusal else "polite"
        shown = f'<div class="{kind}">{html}</div>' if html else ""
        self.view.value = f'<div role="status" aria-live="{live}">{shown}</div>'
        if self._answer is not None:
            self._answer.value = ""
        self._answer = self._place
        if self._place is not None:  # seen there, and heard by the line
            self._place.value = f'<div aria-hidden="true">{shown}</div>' if shown else ""
        elsewhere = bool(shown) and self._place is not None
        (self.view.add_class if elsewhere else self.view.remove_class)("bk-elsewhere")
        self._at_work, self.is_refusal = False, refusal

    def guard(self, action: Callable[..., object], working: str = "") -> Callable[..., None]:
        """Wrap a callback so that nothing it raises is ever lost.

        A button or slider callback that raises is otherwise silent: the page just stops
        answering.

        Parameters
        ----------
        action : callable
        working : str, optional
            What to say meanwhile, next to a moving bar, where it may take over half a second.
        """

        def guarded(press: Any = None, *_: Any) -> None:
            before, control = self._place, getattr(press, "owner", press)
            if isinstance(control, widgets.Widget):
                self._place = _places.get(control, before)
            try:
                if working:
                    self.work(working)
                action()
                if working and self._at_work:
                    self.say("")
            except BlendkitError as error:
                self.refuse(error)
            except Exception as error:  # a defect of the workbook is shown too, never hidden
                text = f"Something broke in the workbook ({in_one_line(error)})."
                rest = f"Your input is untouched. {where_recorded(error)}"
                self._show(f"<b>{escape(text)}</b> {escape(rest)}", refusal=True)
            finally:
                self._place = before

        return guarded
