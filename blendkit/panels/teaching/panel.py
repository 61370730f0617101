"""Panel 08: a class — plan, shopping, card, hand-outs, run sheet, and results."""

from collections.abc import Mapping
from typing import Any

import ipywidgets as widgets

from blendkit.foundation.data import example_class
from blendkit.foundation.errors import Problem, Refused, attempt
from blendkit.journal.records import BlendRow, ClassRow, Version
from blendkit.keeping.details import keep_class, kept_classes
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.panels.bottle.kept_blends import version_options
from blendkit.panels.kit import parts
from blendkit.panels.kit.links import notebook_links
from blendkit.panels.kit.watch import Watch
from blendkit.panels.teaching import sections
from blendkit.panels.teaching.editor import ClassEditor
from blendkit.panels.teaching.gathered import GatheredSection
from blendkit.panels.teaching.handouts import HandOutSection
from blendkit.panels.teaching.results import ResultsSection
from blendkit.teaching.class_document import BadClass, ClassPlan
from blendkit.teaching.class_reader import read_class
from blendkit.teaching.free_choice import ChoiceCard, card_of
from blendkit.teaching.intake import CONDITIONS

PROMPT = "Open a kept class …"


class TeachPanel(parts.Panel):
    """A class from the first thought to the journal.

    Parameters
    ----------
    document : mapping, optional
        The class to open with; where left out, the one that was kept last, or the invented
        example.

    Attributes
    ----------
    plan : ClassPlan
        The last good plan.
    card : ChoiceCard or None
        The last card; None where no drop of any oil fits.
    """

    plan: ClassPlan
    card: ChoiceCard | None = None

    def __init__(self, document: Mapping[str, Any] | None = None) -> None:
        self.message = parts.Message()
        guard = self.message.guard
        self.seats, self.buy = sections.PlanSection(), sections.BuySection()
        self.choices, self.run = sections.CardSection(), sections.RunSection()
        self.results = ResultsSection()
        self.hand_outs = HandOutSection(self.results, self.buy.shopping)
        self.gathered = GatheredSection()
        kept: list[ClassRow] = read_or(kept_classes, [])
        document = document or (kept[0].document if kept else example_class())
        self.editor = ClassEditor(document, guard(self.update))
        self.buy.shopping.show(document)
        self.keep_button = parts.button("Keep this class", guard(self.keep))
        self.opener = widgets.Dropdown(tooltip="open a kept class")
        self._list_kept()
        self.opener.observe(guard(self.open), "value")
        self.along = widgets.SelectMultiple(
            tooltip="set blends", rows=6, layout=widgets.Layout(width="380px")
        )
        self.along.observe(guard(self.mix_along), "value")
        steps = self._steps()
        self.tabs = widgets.Tab([*steps.values()], titles=[*steps])
        row = parts.row(self.keep_button, self.opener)
        links = notebook_links("08_teach_a_class")
        self.watch = Watch()
        self.watch.follow(guard(self.list_blends), BlendRow, Version)
        self.watch.follow(guard(self._list_kept), ClassRow)
        self.watch.on("look", self._look)
        frame = (links, row, self.message.view, self.tabs, self.watch)
        self.view = parts.panel_frame(*frame)
        guard(self.update)()
        guard(self.list_blends)()

    def show(self, document: Mapping[str, Any]) -> None:
        """Put another class on the panel."""
        self.buy.shopping.show(document)
        self.editor.show(document)

    @property
    def document(self) -> dict[str, Any]:
        """The document of all controls, with what was typed for the shopping list."""
        return {**self.editor.document, **self.buy.shopping.document}

    def update(self) -> None:
        """Calculate everything again from the controls."""
        shown = self._sections()
        try:
            self.plan = read_class(self.document)
        except Refused as error:
            self.message.refuse(error, *(section.found for section in shown))
            return
        self.message.say("")
        problems: list[Problem] = []
        self.card = attempt(problems, card_of, self.plan)
        for section in (*shown, self.gathered):
            section.offer(self.plan, self.card)
        if problems:
            self.choices.message.refuse(BadClass(problems), self.choices.found)

    def _look(self, *_: Any) -> None:
        self.watch.look()
        self.gathered.follow()

    def list_blends(self) -> None:
        """Offer the blends that the journal holds, to mix along."""
        options, chosen = version_options(PROMPT)[1:], self.along.value
        if list(self.along.options) != options:
            self.along.options = options
            self.along.value = [each for _, each in options if each in chosen]

    def mix_along(self) -> None:
        """Let the class mix along the chosen blends; freely where none is chosen."""
        chosen = [the_journal().get(Version, version_id) for version_id in self.along.value]
        self.editor.mix_along([version.document for version in chosen])

    def keep(self) -> None:
        """Keep the class in the store."""
        document = read_class(self.document).to_dict()
        journal = the_journal()
        row, is_new = keep_class(journal, document)
        self._list_kept()
        already = "The same was kept before. Nothing was written."
        self.message.say(f"Kept {_label(row)} in {journal.path}." if is_new else already)

    def open(self) -> None:
        """Open the kept class that was chosen."""
        if self.opener.value:
            label, row = self.opener.label, the_journal().get(ClassRow, self.opener.value)
            self.show(row.document)  # an older one may be refused: it can be mended then
            self.message.say(f"Opened {label}.")

    def _sections(self) -> tuple[sections.ClassSection, ...]:
        shown = (self.seats, self.buy, self.choices, self.run)
        return (*shown, self.hand_outs, self.results)

    def _steps(self) -> dict[str, widgets.Widget]:
        along = parts.fold("Use set blends instead", parts.hint(_ALONG), self.along)
        what = parts.column(self.editor.view, along)
        picture = parts.results(self.seats.view)
        picture.add_class("bk-seen-first")
        # the same picture is next to the plan and below the seats
        conditions = "; ".join(map(" ".join, CONDITIONS.items()))
        letters = parts.hint(f"Letters of the intake form: {conditions}.")
        people = (letters, self.editor.people, self.editor.people_note, self.seats.picture)
        title = parts.heading("Seats, and what each leaves out")
        return {
            "Plan": parts.columns(what, picture),
            "Seats": parts.column(title, *people),
            "What to buy": self.buy.view,
            "The card": self.choices.view,
            "Run sheet": self.run.view,
            "Hand-outs": self.hand_outs.view,
            "Results": self.results.view,
            "Handed in": self.gathered.view,
        }

    def _list_kept(self) -> None:
        kept: list[ClassRow] = read_or(kept_classes, [])
        self.opener.options = [(PROMPT, ""), *((_label(row), row.id) for row in kept)]
        self.opener.value = ""


_ALONG = (
    "Choose one or more blends from your journal (Ctrl or Cmd adds one); "
    "with none chosen everybody mixes freely from the palette."
)


def _label(row: ClassRow) -> str:
    return f"{row.name} · {row.kept_at.astimezone():%Y-%m-%d}"
