"""A learner's seat in a class with laptops: its card, what it leaves out, and handing in."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.panels.kit.parts import Findings, Message, button, fold
from blendkit.teaching.hand_in import CannotHandIn, drop_box, hand_in

_KEEPS = "Keeps to this seat and to the card of the class."


class SeatView:
    """The button that hands a blend in, and the rules of the class for this seat.

    Parameters
    ----------
    blend : callable
        Gives the blend on the panel; `BadBlend` where there is none.
    message : Message
        Says that it was handed in, or why not.

    Attributes
    ----------
    buttons : list of Button
        One in a class with laptops, else none.
    views : list of Widget
        Sentences of the class on this bottle, and its card; none where no class is known.
    """

    def __init__(self, blend: Callable[[], Blend], message: Message) -> None:
        self._blend, self.message = blend, message
        self._folder, self._at_seat = drop_box(), None
        self.buttons: list[widgets.Button] = []
        self.views: list[widgets.Widget] = []
        if self._folder is None:
            return
        from blendkit.teaching.laptop import at_seat  # only a class pays for this import

        self.buttons, self._at_seat = [button("Hand in", message.guard(self.hand))], at_seat()
        if self._at_seat:
            self.words, self.card = Findings(_KEEPS), widgets.HTML()
            self.words.view.add_class("bk-message")
            self.views = [self.words.view, fold("The card of this class", self.card)]

    def show(self, blend: Blend | None) -> None:
        """Show what the class says of a bottle."""
        if blend is None or self._at_seat is None:
            return
        from blendkit.showing.teach.fragments import seat_card

        found, view = self._at_seat.judge(blend), self.words.view
        is_over = found.left_out or found.broken
        (view.add_class if is_over else view.remove_class)("bk-refusal")
        self.words.show(one[0].upper() + one[1:] for one in found.sentences)
        self.card.value = seat_card(self._at_seat, blend)

    def hand(self) -> None:
        """Hand the blend in; refused while it holds what this seat leaves out."""
        handed = self._blend()
        out = self._at_seat.judge(handed).left_out if self._at_seat else ()
        if out or self._folder is None:
            names = " and ".join(name for name, _ in out)
            raise CannotHandIn(f"{names}: left out for this seat. Remove it, then hand in.")
        hand_in(handed, self._folder)
        self.message.say(
            f"Handed in: {handed.name}. Hand in again after a change; the newest counts."
        )
