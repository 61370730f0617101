"""Keeping the blend on a panel as a version, and opening one kept on any panel."""

from __future__ import annotations

from typing import Any, Protocol

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.foundation import keep
from blendkit.journal.errors import CannotJournal
from blendkit.journal.records import Version
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.versions import keep_version, kept_versions
from blendkit.panels.bottle.blend_editor import BlendEditor
from blendkit.panels.bottle.hand_in_button import hand_in_buttons
from blendkit.panels.kit.parts import Message, button
from blendkit.skin.verdict import verdict

FILES = "blends"  # where a blend goes when the journal cannot take it
PROMPT = "Open a kept blend …"
NO_JOURNAL = "The journal cannot be read; see notebook 06"


class HoldsBlend(Protocol):
    """A panel with a blend on it."""

    editor: BlendEditor

    def show(self, blend: Blend) -> None:
        """Put another blend on the panel."""


def version_options(prompt: str) -> list[tuple[str, Any]]:
    """Every kept version to choose from, newest first, below a prompt.

    Raises
    ------
    CannotJournal
    """
    kept = kept_versions(the_journal())
    return [(prompt, ""), *((one.listed, one.version.id) for one in kept)]


class SavedBlends:
    """A button that keeps, a box for the reason, and a chooser that opens."""

    def __init__(self, panel: HoldsBlend, message: Message, *more: widgets.Widget) -> None:
        self.panel = panel
        self.message = message
        self.keep_button = button("Keep this blend", message.guard(self.keep))
        self.why = widgets.Text(
            placeholder="why, if you like",
            tooltip="why this version",
            layout=widgets.Layout(width="180px"),
        )
        self.opener = widgets.Dropdown(tooltip="open a kept blend", options=[(PROMPT, "")])
        self.list_kept()
        self.opener.observe(message.guard(self.open), "value")
        handing_in = hand_in_buttons(self._blend, message)
        self.view = widgets.HBox([self.keep_button, self.why, self.opener, *handing_in, *more])

    def keep(self) -> None:
        """Keep the blend as a version; as a file where the journal cannot take it."""
        blend = self._blend()
        try:
            journal = the_journal()
            kept, is_new = keep_version(journal, blend, self.why.value.strip())
        except CannotJournal as error:
            file = keep.save(FILES, blend.name, blend.to_dict())
            later = "It goes into the journal when that can be opened again."
            self._say(f"Kept as {file}. {later} {error}", blend)
            return
        self.list_kept()
        if is_new:
            self.why.value = ""
            self._say(f"Kept as {kept.label} in {journal.path}.", blend)
        else:
            self._say(f"The same was kept before: {kept.label}. Nothing was written.", blend)

    def _say(self, text: str, blend: Blend) -> None:
        self.message.say(f"{text} {verdict(blend).warning}".strip())

    def _blend(self) -> Blend:
        return Blend.from_dict(self.panel.editor.document)

    def open(self) -> None:
        """Open the kept version that was chosen."""
        if self.opener.value:
            label = self.opener.label
            version = the_journal().get(Version, self.opener.value)
            self.panel.show(Blend.from_dict(version.document))
            self.message.say(f"Opened {label}.")

    def list_kept(self) -> None:
        """Offer what the journal holds now, or say in the chooser that it cannot be read."""
        try:
            self.opener.options = version_options(PROMPT)
            self.opener.tooltip = "open a kept blend"
        except CannotJournal as error:
            self.opener.options = [(NO_JOURNAL, "")]
            self.opener.tooltip = str(error)
        self.opener.value = ""
