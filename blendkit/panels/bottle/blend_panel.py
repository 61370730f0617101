"""Base of every panel with a blend: editor, verdict, message line, keeping, and greying."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import ipywidgets as widgets

from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.foundation.errors import Refused
from blendkit.keeping.opening_blend import opening_blend
from blendkit.panels.bottle.blend_editor import BlendEditor
from blendkit.panels.bottle.calibrator import kept_drop_sizes
from blendkit.panels.bottle.kept_blends import SavedBlends
from blendkit.panels.bottle.verdict_line import VerdictLine
from blendkit.panels.kit.deferred import Deferred
from blendkit.panels.kit.links import notebook_links
from blendkit.panels.kit.parts import Message, Panel, columns, grey, panel_frame
from blendkit.skin.check import findings_in
from blendkit.skin.limits import Finding
from blendkit.skin.verdict import Verdict, judge


class BlendPanel(Panel):
    """A panel that calculates something from one blend.

    A panel of this family builds its own controls and results, hands them to `lay_out`, and
    says in `calculate` what to show for a good blend.

    Parameters
    ----------
    blend : Blend, document, or path, optional
        To open with. Where left out, the one that was kept last; or else the
        invented example, counted with the maker's own droppers.

    Attributes
    ----------
    blend : Blend
        The last good blend.
    judged : Verdict
        Of that blend.
    notebook : str
        The notebook of the panel.
    """

    blend: Blend
    judged: Verdict
    notebook: str

    def __init__(self, blend: BlendLike | None = None) -> None:
        self.message = Message()
        self._afterwards = Deferred()
        self.refresh = self.message.guard(self.update)
        self.verdict = VerdictLine(self)
        self.opening = opening_blend(blend)
        self.editor = BlendEditor(self.opening.document, self.refresh)
        if self.opening.is_example:
            self.editor.drop_sizes |= kept_drop_sizes()
        self._as_opened = self.editor.document

    def lay_out(
        self,
        controls: list[widgets.Widget],
        found: widgets.Widget,
        *actions: widgets.Widget,
        stale: tuple[widgets.Box, ...],
    ) -> None:
        """Put the panel together and calculate for the first time.

        Parameters
        ----------
        controls : list of Widget
            Above and below the editor, which is among them.
        found : Widget
            Next to the controls.
        *actions : Widget
            Behind the button that keeps and the chooser that opens.
        stale : tuple of Box
            What is greyed while the input cannot be used.
        """
        self._stale = stale
        self.saved = SavedBlends(self, self.message, *actions)
        # as wide whatever is opened in it, so that the results stay next to it
        left = widgets.VBox(controls, layout=widgets.Layout(flex="0 1 420px"))
        both = columns(left, found)
        links = notebook_links(self.notebook)
        self.message.view.add_class("bk-lasting")  # what is below must not move under a press
        above = (links, self.saved.view, self.verdict.view, self.message.view)
        self.view = panel_frame(*above, both)
        self.refresh()
        self._afterwards.finish()

    def show(self, blend: BlendLike) -> None:
        """Put another blend on the panel."""
        self.editor.show(as_blend(blend).to_dict())

    def update(self) -> None:
        """Calculate everything again from the controls."""
        try:
            blend = Blend.from_dict(self.editor.document)
            is_as_opened = self.editor.document == self._as_opened
            # first, so that it never covers up what the work has to show
            self.message.say(self.opening.said if is_as_opened else "")
            self.calculate(blend)
        except Refused as error:
            self.message.refuse(error, *self._stale)
        else:
            for box in self._stale:
                grey(box, stale=False)

    def calculate(self, blend: Blend) -> None:
        """Show what follows from a good blend; `Refused` where another input is bad."""
        raise NotImplementedError

    def defer(
        self, work: Callable[[], None], findings: Sequence[Finding] | None = None
    ) -> None:
        """From `calculate`: show this and the verdict, once the page has drawn the chart.

        `findings` are those of the blend, where they are at hand.
        """

        def judge_and_work() -> None:
            found = findings_in(self.blend.bottle) if findings is None else findings
            self.judged = judge(self.blend, found)
            self.verdict.show(self.blend, self.judged)
            work()

        self._afterwards.ask(self.message.guard(judge_and_work))
