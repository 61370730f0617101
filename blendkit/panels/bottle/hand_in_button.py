"""The button that hands a blend in; shown only where a class has a folder for it."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.panels.kit.parts import Message, button
from blendkit.teaching.hand_in import drop_box, hand_in


def hand_in_buttons(blend: Callable[[], Blend], message: Message) -> list[widgets.Button]:
    """One button in a class with laptops, else none.

    Parameters
    ----------
    blend : callable
        Gives the blend on the panel; `BadBlend` where there is none.
    message : Message
        Says that it was handed in, or why not.
    """
    folder = drop_box()
    if folder is None:
        return []

    def hand() -> None:
        handed = blend()
        hand_in(handed, folder)
        message.say(
            f"Handed in: {handed.name}. Hand in again after a change; the newest counts."
        )

    return [button("Hand in", message.guard(hand))]
