"""A learner's seat in a class with laptops: its card, what it leaves out, and handing in."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.panels.kit.parts import Findings, Message, button, fold
from blendkit.teaching.hand_in import CannotHandIn, drop_box, hand_in

if TYPE_CHECKING:
    from blendkit.teaching.judging import Judgement
    from blendkit.teaching.laptop import AtSeat

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
        self.words, self.card = Findings(_KEEPS), widgets.HTML()
        self._at_seat: AtSeat | None = None
        self.buttons: list[widgets.Button] = []
        if drop_box() is not None:
            from blendkit.teaching.laptop import at_seat  # only a class pays for this import

            self._at_seat = at_seat()
            self.buttons = [button("Hand in", message.guard(self.hand))]
        fits = (
            self.words.view.add_class("bk-message"),
            fold("The card of this class", self.card),
        )
        self.views: list[widgets.Widget] = [*fits] if self._at_seat else []

    def show(self, blend: Blend | None) -> None:
        """Show what the class says of a bottle."""
        if blend is None or self._at_seat is None:
            return
        from blendkit.showing.teach.fragments import seat_card

        found = self._judge(blend)
        is_over = bool(found and (found.left_out or found.broken))
        (self.words.view.add_class if is_over else self.words.view.remove_class)("bk-refusal")
        self.words.show(found.sentences if found else ())
        self.card.value = seat_card(self._at_seat, blend)

    def hand(self) -> None:
        """Hand the blend in; refused while it holds what this seat leaves out."""
        handed, folder = self._blend(), drop_box()
        found = self._judge(handed)
        if found and found.left_out:
            names = ", ".join(name for name, _ in found.left_out)
            raise CannotHandIn(f"{names}: left out for this seat. Remove it, then hand in.")
        if folder is None:
            raise CannotHandIn("Folder to hand in to: got none; needs that of the class.")
        hand_in(handed, folder)
        self.message.say(
            f"Handed in: {handed.name}. Hand in again after a change; the newest counts."
        )

    def _judge(self, blend: Blend) -> Judgement | None:
        if self._at_seat is None:
            return None
        from blendkit.teaching.judging import judge

        return judge(*self._at_seat, blend)
