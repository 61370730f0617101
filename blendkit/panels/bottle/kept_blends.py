"""The header of a panel with a blend: what is in hand, keeping, opening, handing in."""

from collections.abc import Callable
from html import escape
from typing import Any

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.foundation import keep
from blendkit.journal.errors import CannotJournal
from blendkit.journal.records import BlendRow, Version
from blendkit.journal.store import Journal
from blendkit.keeping import hand
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.versions import KeptVersion, keep_version, kept_versions
from blendkit.panels.bottle.hand import HoldsBlend
from blendkit.panels.kit import parts
from blendkit.skin.verdict import verdict
from blendkit.teaching.hand_in import CannotHandIn, drop_box, hand_in

FILES = "blends"  # where a blend goes when the journal cannot take it
PROMPT = "Open a kept blend …"
NO_JOURNAL = "The journal cannot be read; see notebook 06"
_KEEPS = "Keeps to this seat and to the card of the class."


def version_options(prompt: str) -> list[tuple[str, Any]]:
    """Every kept version to choose from, newest first, below a prompt.

    Raises
    ------
    CannotJournal
    """
    return _options(prompt, kept_versions(the_journal()))


def _options(prompt: str, kept: list[KeptVersion]) -> list[tuple[str, Any]]:
    return [(prompt, ""), *((one.listed, one.version.id) for one in kept)]


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

    def __init__(self, blend: Callable[[], Blend], message: parts.Message) -> None:
        self._blend, self.message = blend, message
        self._folder, self._at_seat = drop_box(), None
        self.buttons: list[widgets.Button] = []
        self.views: list[widgets.Widget] = []
        if self._folder is None:
            return
        from blendkit.teaching.laptop import at_seat  # only a class pays for this import

        self.buttons, self._at_seat = (
            [parts.button("Hand in", message.guard(self.hand))],
            at_seat(),
        )
        if self._at_seat:
            self.words, self.card = parts.Findings(_KEEPS), widgets.HTML()
            self.words.view.add_class("bk-message")
            self.views = [self.words.view, parts.fold("The card of this class", self.card)]

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


class SavedBlends:
    """What is in hand, undo and redo, a button that keeps, and a chooser that opens.

    Attributes
    ----------
    state : ipywidgets.HTML
        Name of the blend in hand, and as which version it is kept.
    """

    def __init__(self, panel: HoldsBlend, *more: widgets.Widget) -> None:
        self.panel = panel
        self.message = message = panel.message
        self._kept: dict[str, KeptVersion] = {}
        self.state = widgets.HTML()
        self.keep_button = parts.button("Keep as version", message.guard(self.keep))
        reason = {"placeholder": "why, if you like", "tooltip": "why this version"}
        self.why = parts.text_box("", width="180px", **reason)
        self.opener = parts.choice("", [(PROMPT, "")], "220px", tooltip="open a kept blend")
        self.at_seat = SeatView(self._blend, message)
        panel.hand.changed = self.show_state
        panel.hand.watch.follow(message.guard(self.list_kept), BlendRow, Version)
        self.list_kept()
        self.opener.observe(message.guard(self.open), "value")
        keeping = (self.keep_button, self.why, self.opener)
        self.view = parts.row(panel.hand.view, *keeping, *self.at_seat.buttons, *more)

    def keep(self) -> None:
        """Keep the blend as a version; as a file where the journal cannot take it."""
        blend = self._blend()
        try:
            journal = the_journal()
            kept, is_new = self.keep_version(journal, blend, self.why.value.strip())
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

    def keep_version(
        self, journal: Journal, blend: Blend, why: str = ""
    ) -> tuple[KeptVersion, bool]:
        """Keep the blend on the panel; what is in hand is that version from now on."""
        own = self.panel.hand
        kept, is_new = keep_version(journal, blend, why, own.present.version)
        if not own.is_own:
            own.follow(hand.name_version(kept.version))
        return kept, is_new

    def _say(self, text: str, blend: Blend) -> None:
        self.message.say(f"{text} {verdict(blend).warning}".strip())

    def _blend(self) -> Blend:
        return Blend.from_dict(self.panel.editor.document)

    def open(self) -> None:
        """Open the kept version that was chosen."""
        if self.opener.value:
            kept = self._kept[self.opener.value]
            kept.blend()
            self.panel.hand.use(hand.open_version(kept))
            self.message.say(f"Opened {kept.label}.")

    def list_kept(self) -> None:
        """Offer what the journal holds now, or say in the chooser that it cannot be read."""
        try:
            kept = kept_versions(the_journal())
            self._kept = {one.version.id: one for one in kept}
            parts.set_options(self.opener, _options(PROMPT, kept))
            self.opener.tooltip = "open a kept blend"
        except CannotJournal as error:
            self.opener.options = [(NO_JOURNAL, "")]
            self.opener.tooltip = str(error)
        self.opener.value = ""
        self.show_state()

    def show_state(self) -> None:
        """Say what is in hand: its name, and as which version it is kept."""
        own, present = self.panel.hand, self.panel.hand.present
        kept = self._kept.get(present.version or "")
        if own.is_own:
            state = "the blend of this cell, not the one in hand"
        elif own.trouble:
            state = f"not written: {own.trouble}"
        elif kept is None:
            state = "not kept yet"
        else:
            is_same = hand.is_as_kept(present.document["blend"], kept.version)
            state = f"version {kept.number}{'' if is_same else ', changed since'}"
        blend = getattr(self.panel, "blend", None)
        self.at_seat.show(blend)
        if blend is not None:
            typed, counts = blend.to_dict(), blend.count_in_words(blend.total_drops)
            state = f"{typed['bottle']} · {typed['strength']} · {counts} · {state}"
        self.state.value = f'<div class="bk-hand">{escape(state)}</div>'
