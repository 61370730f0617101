"""Accepting one skin limit that is not settled, with a reason, and withdrawing it."""

from __future__ import annotations

from collections.abc import Sequence

import ipywidgets as widgets

from blendkit.foundation.errors import BadNumber, Problem
from blendkit.panels.bottle.blend_editor import BlendEditor
from blendkit.panels.kit.parts import Findings, Message, button, choice, set_options, text_box
from blendkit.skin.finding_words import accepted_in_words, what_would_settle
from blendkit.skin.limits import NOT_SETTLED, Finding


class Acceptance:
    """What would settle each open limit, the limits accepted, and a button for either."""

    def __init__(self, editor: BlendEditor, message: Message) -> None:
        self.editor = editor
        self.words = Findings("Every limit that applies is settled.")
        self.limit = choice("Limit", [])
        self.reason = text_box(
            "Reason", "", "380px", placeholder="why it is kept, in your case"
        )
        self.accept_button = button("Accept this limit", message.guard(self.accept))
        self.withdraw_button = button("Withdraw acceptance", message.guard(self.withdraw))
        buttons = widgets.HBox([self.accept_button, self.withdraw_button])
        self.controls = widgets.VBox([self.limit, self.reason, buttons])
        self.view = widgets.VBox([self.words.view, self.controls])

    def offer(self, findings: Sequence[Finding]) -> None:
        """Offer the limits that are not settled, and those accepted that no longer apply."""
        open_ones = [f for f in findings if f.rule.decides and f.verdict == NOT_SETTLED]
        asked = [
            f"{f.rule.subject} ({f.rule.rule_set}). {what_would_settle(f)}"
            for f in open_ones
            if not f.rule.accepted
        ]
        self.words.show([*asked, *accepted_in_words(open_ones)])
        names = dict.fromkeys([*(f.rule.name for f in open_ones), *self.editor.accepted])
        set_options(self.limit, [(name, name) for name in names])
        self.controls.layout.display = None if names else "none"

    def accept(self) -> None:
        """Write the chosen limit into the blend as accepted."""
        reason = self.reason.value.strip()
        if not (self.limit.value and reason):
            needed = "a few words that you can stand by; they are printed with the blend"
            raise BadNumber([Problem("reason", "nothing", needed)])
        self.editor.accept(self.limit.value, reason)
        self.reason.value = ""

    def withdraw(self) -> None:
        """Take the chosen limit out of what the blend accepts."""
        self.editor.accept(self.limit.value, "")
