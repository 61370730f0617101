"""Base of every panel with a blend: editor, verdict, message line, keeping, and greying."""

from collections.abc import Callable, Sequence

import ipywidgets as widgets

from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.foundation.errors import Refused
from blendkit.journal.records import LotRow, OwnMaterialRow
from blendkit.keeping.hand import Document
from blendkit.panels.bottle.blend_editor import BlendEditor
from blendkit.panels.bottle.hand import InHand
from blendkit.panels.bottle.kept_blends import SavedBlends
from blendkit.panels.kit import parts
from blendkit.panels.kit.deferred import Deferred
from blendkit.panels.kit.links import notebook_links
from blendkit.showing.skin.fragments import verdict_line
from blendkit.skin.check import findings_in
from blendkit.skin.counted_bottle import in_its_own_ratio
from blendkit.skin.limits import Finding
from blendkit.skin.reformulation import GENTLER_KINDS, reformulate
from blendkit.skin.verdict import Verdict, judge

SEARCHING = "Searching within the limits …"


class BlendPanel(parts.Panel):
    """A panel that calculates something from one blend.

    A panel of this family builds its own controls and results, hands them to `lay_out`, and
    says in `calculate` what to show for a good blend.

    Parameters
    ----------
    blend : Blend, document, or path, optional
        Of its own. Where left out, the panel shows the blend in hand, and follows it.

    Attributes
    ----------
    blend : Blend
        The last good blend.
    judged : Verdict
        Of that blend.
    verdict, fix_button : widgets
        That verdict in its lasting place, and a button while there is something to cure.
    hand : InHand
        What ties it to the blend in hand.
    notebook : str
        The notebook of the panel, for its line of links; empty for a panel further down.
    """

    blend: Blend
    judged: Verdict
    notebook: str

    def __init__(self, blend: BlendLike | None = None) -> None:
        self.message = parts.Message()
        self._afterwards = Deferred()
        self.refresh = self.message.guard(self.update)
        self.verdict = widgets.HTML().add_class("bk-verdict-place")
        self.fix_button = parts.button("Fix it", self.message.guard(self.fix, SEARCHING))
        self.verdict_row = widgets.HBox([self.verdict, self.fix_button])
        self.verdict_row.add_class("bk-verdict-row")
        self.hand = InHand(self, blend)
        self.editor = BlendEditor(self.hand.present.document["blend"], self.refresh)

    def lay_out(
        self, body: widgets.Widget, *actions: widgets.Widget, stale: tuple[widgets.Box, ...]
    ) -> None:
        """Put the panel together, its header first, and calculate for the first time.

        Parameters
        ----------
        body : Widget
            Controls and results, with the verdict among them; see `side_by_side`.
        *actions : Widget
            Behind the button that keeps and the chooser that opens.
        stale : tuple of Box
            What is greyed while the input cannot be used.
        """
        self.saved = SavedBlends(self, *actions)
        follow = self.message.guard(self.editor.list_materials)
        self.hand.watch.follow(follow, LotRow, OwnMaterialRow)
        links = [notebook_links(self.notebook)] if self.notebook else []
        head = parts.row(self.editor.name, self.saved.state, *links)
        head.add_class("bk-head")
        above = (head, self.saved.view, self.message.view, *self.saved.at_seat.views)
        self.frame(*above, body, stale=stale)
        if self.hand.present.said and not self.message.is_refusal:
            self.message.say(self.hand.present.said)

    def frame(self, *children: widgets.Widget, stale: tuple[widgets.Box, ...]) -> None:
        """Put all that the panel shows in its frame, and calculate for the first time."""
        self._stale = stale
        self.message.view.add_class("bk-lasting")  # what is below must not move under a press
        self.view = parts.panel_frame(*children, self.hand.watch)
        self.hand.begin()
        self.refresh()
        self._afterwards.finish()

    def side_by_side(self, found: widgets.Widget, *controls: widgets.Widget) -> widgets.Widget:
        """The verdict, and below it controls, with the blend's own folded, next to results."""
        editor = parts.fold("Change the blend", self.editor.view, self.editor.details)
        # as wide whatever is opened in it, so that the results stay next to it
        left = widgets.VBox([*controls, editor], layout=widgets.Layout(flex="0 1 400px"))
        return parts.column(self.verdict_row, parts.columns(left, found))

    def show(self, blend: BlendLike) -> None:
        """Put another blend on the panel."""
        self.editor.show(as_blend(blend).to_dict())

    def update(self) -> None:
        """Calculate everything again from the controls."""
        if self.hand.is_putting:
            return
        try:
            blend = Blend.from_dict(self.editor.document)
            if self.message.is_refusal or not self.hand.watch.is_looking:
                self.message.say("")  # first, so that it never covers up what the work shows
            self.calculate(blend)
        except Refused as error:
            self.message.refuse(error, *self._stale)
        else:
            for box in self._stale:
                parts.grey(box, stale=False)
        self.hand.change()

    def is_sound(self, document: Document) -> bool:
        """Whether a document can be in hand, as far as this panel can tell."""
        try:
            Blend(document.get("blend", {}))
        except Refused:
            return False
        return True

    def calculate(self, blend: Blend) -> None:
        """Show what follows from a good blend; `Refused` where another input is bad."""
        raise NotImplementedError

    def show_verdict(self, held: Verdict | None = None) -> None:
        """Show the verdict, and how near its limit another blend is that is held."""
        self.verdict.value = verdict_line(self.blend, self.judged, held=held)
        # hidden, not taken away: the line next to it must not move
        self.fix_button.layout.visibility = "visible" if self.judged.warning else "hidden"

    def fix(self) -> None:
        """Take the nearest blend that keeps every law and standard, and say what moved."""
        found = reformulate(self.blend, swaps=GENTLER_KINDS, heed_advice=False)
        self.show(in_its_own_ratio(found.blend))
        back = "" if self.hand.is_own else "Undo takes it back."
        self.message.say(" ".join((*found.sentences[:3], back)).strip())

    def defer(
        self, work: Callable[[], None], findings: Sequence[Finding] | None = None
    ) -> None:
        """From `calculate`: show this and the verdict, once the page has drawn the chart.

        `findings` are those of the blend, where they are at hand.
        """

        def judge_and_work() -> None:
            found = findings_in(self.blend.bottle) if findings is None else findings
            self.judged = judge(self.blend, found)
            self.show_verdict()
            work()

        self._afterwards.ask(self.message.guard(judge_and_work))
