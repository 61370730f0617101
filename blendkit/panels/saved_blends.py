"""Keeping the blend on a panel, and opening one that was kept on any panel."""

from __future__ import annotations

from typing import Any, Protocol

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.foundation import keep
from blendkit.panels.blend_editor import BlendEditor
from blendkit.panels.parts import Message, button

KEPT_AS = "blends"


class HoldsBlend(Protocol):
    """A panel with a blend on it."""

    editor: BlendEditor

    def show(self, blend: Blend) -> None:
        """Put another blend on the panel."""


class SavedBlends:
    """A button that keeps, and a chooser that opens."""

    def __init__(self, panel: HoldsBlend, message: Message, *more: widgets.Widget) -> None:
        self.panel = panel
        self.message = message
        self.keep_button = button("Keep this blend", message.guard(self.keep))
        self.opener = widgets.Dropdown(tooltip="open a kept blend")
        self._list_kept()
        self.opener.observe(message.guard(self.open), "value")
        self.view = widgets.HBox([self.keep_button, self.opener, *more])

    def keep(self) -> None:
        """Write the blend to a new file in the maker's folder."""
        blend = Blend.from_dict(self.panel.editor.document)
        file = keep.save(KEPT_AS, blend.name, blend.to_dict())
        self._list_kept()
        self.message.say(f"Kept as {file}.")

    def open(self) -> None:
        """Open the kept blend that was chosen."""
        if self.opener.value:
            file = self.opener.value
            self.panel.show(Blend.from_dict(keep.load(file)))
            self.message.say(f"Opened {file}.")

    def _list_kept(self) -> None:
        files: list[tuple[str, Any]] = list(keep.saved(KEPT_AS).items())
        self.opener.options = [("Open a kept blend …", ""), *files]
        self.opener.value = ""
