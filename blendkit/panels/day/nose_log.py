"""The nose log on the fade panel: what was smelt and when, and the clock it teaches."""

from typing import Any

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.evaporation.fade_words import span_of
from blendkit.evaporation.forecast import Lasting
from blendkit.evaporation.nose_entries import SMELLS, WHOLE
from blendkit.evaporation.nose_log import PRIOR_SPREAD, sentences
from blendkit.evaporation.uncertainty import Clock
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import show
from blendkit.journal.errors import CannotJournal
from blendkit.keeping.answers import maker_nose
from blendkit.keeping.clock import learnt_clock
from blendkit.keeping.nose_logs import keep_log
from blendkit.keeping.open_store import the_journal
from blendkit.panels.day.parts import Section, WornPanel, notes_in, offer
from blendkit.panels.kit.parts import Findings, heading, number_of
from blendkit.skin.check import options


class _Row:
    """One smell: of what, how, and when."""

    def __init__(self, groups: list[tuple[str, str]]) -> None:
        self.group = widgets.Dropdown(
            options=groups, tooltip="of what", layout=widgets.Layout(width="232px")
        )
        self.event = widgets.Combobox(
            options=(*SMELLS, *(f"{rating}" for rating in range(10, -1, -1))),
            placeholder="gone, weak, strongest, 0–10",
            tooltip="how it smelt",
            continuous_update=False,
            layout=widgets.Layout(width="210px"),
        )
        self.minutes = widgets.Text(
            placeholder="minutes",
            tooltip="minutes since it was put on",
            continuous_update=False,
            layout=widgets.Layout(width="84px"),
        )
        self.view = widgets.HBox([self.group, self.event, self.minutes])

    @property
    def is_blank(self) -> bool:
        return not (self.event.value.strip() or self.minutes.value.strip())

    def document(self) -> dict[str, Any]:
        word = self.event.value.strip().lower()
        return {
            "group": self.group.value,
            "minutes": number_of(self.minutes.value),
            "what": word if word in SMELLS else number_of(self.event.value),
        }


class NoseLogSection(Section):
    """Rows of smells; learning from them sets the clock of the forecast.

    Attributes
    ----------
    use : ipywidgets.Checkbox
        Whether the forecast goes by what was learnt; shown once there is something.
    """

    def __init__(self, panel: WornPanel) -> None:
        super().__init__(panel)
        self.taught, self.beside, self.use = self.words, Findings(""), panel.use
        self.result.children = [self.taught.view, self.beside.view]
        self.rows: list[_Row] = []
        self._groups: list[tuple[str, str]] = [(note, note) for note in NOTES]
        self.rows_view = widgets.VBox()
        self.trouble: list[str] = []
        actions = (
            self.button("Add", self.add),
            self.button("Forget the last", self.forget),
            self.button("Learn from it", self.learn),
        )
        form = (widgets.HTML(_HINT), self.rows_view, widgets.HBox(actions))
        title = heading("What your nose and scale taught")
        self.view = widgets.VBox([*form, title, self.result])
        self.add()

    def clock_on(self, surface: str) -> Clock | None:
        """Clock learnt from all logs of one surface: a paper strip tells nothing of skin."""
        try:
            self.trouble = []
            return learnt_clock(surface)
        except CannotJournal as error:
            self.trouble = [f"What your nose and scale taught cannot be read. {error}"]
            return None

    def offer(self, blend: Blend, surface: str) -> None:
        """Offer what can be smelt of a blend, and say what is known of its surface."""
        of_note = [(note, note) for note in notes_in(blend)]
        of_oil = options(oil.id for oil in blend.base_oils)
        self._groups = [*of_note, *of_oil, ("the whole", WHOLE)]
        for row in self.rows:
            offer(row.group, self._groups)
        clock = self.clock_on(surface)
        is_taught = clock is not None or maker_nose().loudness is not None
        self.use.layout.display = None if is_taught else "none"
        self.tell(self.trouble or sentences(clock))
        self.beside.show([])

    def add(self) -> None:
        """Put an empty row below the others."""
        self._set_rows([*self.rows, _Row(self._groups)])

    def forget(self) -> None:
        """Take the last row away; what was learnt from already stays kept."""
        self._set_rows(self.rows[:-1] or [_Row(self._groups)])

    def learn(self) -> None:
        """Keep the rows as a log, fit the clock to all logs, and forecast by it."""
        panel = self.panel
        with self.refusing():
            blend, conditions = panel.read()
            smells = [row.document() for row in self.rows if not row.is_blank]
            if not smells:
                needed = "at least one line, such as top, gone, 25 minutes"
                raise BadNumber([Problem("nose log", "nothing", needed)])
            before = self.clock_on(conditions.surface)
            document = {"blend": blend.to_dict(), "conditions": panel.worn, "smells": smells}
            keep_log(the_journal(), document)
            self._set_rows([_Row(self._groups)])  # else a second press would count them twice
            after = self.clock_on(conditions.surface)
            if before is None:
                self.use.value = True
            panel.update()
            was, now = (panel.lasting_with(blend, conditions, each) for each in (before, after))
            self.beside.show([*_beside(was, now), _narrower(before, after)])
            unused = "" if self.use.value else " Tick the box to use it."
            panel.message.say(f"Kept in your journal. {sentences(after)[0]}{unused}")

    def _set_rows(self, rows: list[_Row]) -> None:
        self.rows = rows
        self.rows_view.children = [row.view for row in rows]


def _beside(was: Lasting, now: Lasting) -> list[str]:
    """Times of each note before a log and after it."""
    return [
        f"{note.capitalize()} gone: before this log {span_of(was, note)}, "
        f"with it {span_of(now, note)}."
        for note in NOTES
        if note in now.groups
    ]


def _narrower(before: Clock | None, after: Clock | None) -> str:
    was, now = (clock.spread if clock else PRIOR_SPREAD for clock in (before, after))
    return (
        f"The clock may still be {show(now, 2)} times off either way, with two chances in "
        f"three; before this log it was {show(was, 2)} times."
    )


_HINT = (
    '<p class="bk-faint">Write down what you smelt of the blend on the panel, worn as set '
    "there, and how many minutes after you put it on. Ten is as strong as at the start; "
    "“strongest” is for the note that leads.</p>"
)
