"""A part of a panel that can fail by itself, and says so in its own place."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import ipywidgets as widgets

from blendkit.foundation.errors import BlendkitError, Refused
from blendkit.panels.kit.parts import Message, grey, results
from blendkit.showing.label.pages import refusal_page


@contextmanager
def greyed_if_refused(found: widgets.Widget) -> Iterator[None]:
    """Grey a result where the block that renews it is refused; the error goes on."""
    try:
        yield
    except BlendkitError:
        grey(found, stale=True)
        raise
    grey(found, stale=False)


class Section:
    """A part of a panel with a message line of its own.

    Attributes
    ----------
    view : ipywidgets.Widget
    message : Message
    found : ipywidgets.Box
        Greyed while there is nothing new to show.
    """

    def __init__(self, *found: widgets.Widget, above: tuple[widgets.Widget, ...] = ()) -> None:
        self.message = Message()
        self.found = results(*found)
        self.view = widgets.VBox([*above, self.message.view, self.found])

    def attempt(self, work: Callable[[], None]) -> None:
        """Do what shows something; where it is refused, the last stays, greyed."""
        try:
            work()
        except Refused as error:
            self.message.refuse(error, self.found)
        else:
            if self.message.is_refusal:  # the answer to a press stays
                self.message.say("")
            grey(self.found, stale=False)

    def printed(self, make: Callable[[], str]) -> str:
        """Make a page; where it is refused, one with the reason, which a button would hide."""
        try:
            return make()
        except Refused as error:
            self.message.refuse(error)
            return refusal_page(error.sentences)
