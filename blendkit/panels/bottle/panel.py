"""Panel 01, the one screen: blend, bottle, verdict on skin and day, side by side."""

from collections.abc import Callable
from typing import NamedTuple

import ipywidgets as widgets

from blendkit.blend.blend import Blend, BlendLike
from blendkit.evaporation.forecast import Forecast, Lasting, forecast, lasting_of
from blendkit.evaporation.uncertainty import Clock
from blendkit.evaporation.wear import Film, film_of
from blendkit.journal.records import AnswerRow
from blendkit.keeping.answers import as_smelt
from blendkit.keeping.clock import TEACHERS, learnt_clock
from blendkit.keeping.open_store import read_or
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.bottle.calibrator import Calibrator
from blendkit.panels.bottle.dilutions import Dilutions
from blendkit.panels.bottle.hand import day_in_hand
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.print_button import PrintButton
from blendkit.showing.bottle import sheets, words
from blendkit.showing.bottle.pictures import bottle_picture
from blendkit.showing.bottle.rows import drops_rows
from blendkit.showing.day.rows import day_rows, lasting_rows
from blendkit.showing.skin.fragments import note
from blendkit.showing.skin.rows import limits_rows
from blendkit.skin.check import findings_in
from blendkit.skin.limits import Finding
from blendkit.skin.verdict import Verdict, judge

# close at first, when most happens; few, so that the picture follows a slider
HOURS = (0, 0.1, 0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12)
# fewer than on the day's panel: ends of the band are 0.014 off on average and 0.064 at most,
# relative to 4096 draws of the example (0.011 and 0.060 with 256)
DRAWS = 96
HOLD, LET_GO = "Hold to compare", "Remove comparison"


class _State(NamedTuple):
    """What the screen shows of one blend."""

    blend: Blend
    findings: tuple[Finding, ...]
    verdict: Verdict
    forecast: Forecast
    lasting: Lasting
    put_on_at: float


def state_of(blend: Blend, film: Film, put_on_at: float, clock: Clock | None = None) -> _State:
    """What the screen shows of a blend, of its film on skin, and by a clock that was learnt."""
    findings = findings_in(blend.bottle)
    found = forecast(film, HOURS, DRAWS, clock=clock)
    lasting = lasting_of(film, DRAWS, clock=clock)
    return _State(blend, findings, judge(blend, findings), found, lasting, put_on_at)


class FirstBottlePanel(BlendPanel):
    """Pick oils, drag the ratio, and see the bottle, its verdict and its day.

    Attributes
    ----------
    held : _State or None
        Another state, shown with the present one.
    """

    notebook = "01_first_bottle"
    held: _State | None = None
    _now: _State

    def __init__(self, blend: BlendLike | None = None) -> None:
        super().__init__(blend)
        self.picture = widgets.HTML().add_class("bk-bottle")
        self.day = ChartView("day", "day_chart", "Strength of each note through the day")
        self.hold_button = parts.button(HOLD, self.message.guard(self.hold))
        self.bench = PrintButton("Print the bench sheet", lambda: sheets.bench_page(self.blend))
        self.sniff = PrintButton("Print the sniff test", lambda: sheets.sniff_page(self.blend))
        self.calibrator = Calibrator(self.editor.use_drop_size, self.message)
        controls = parts.fold("Change the blend", self.editor.view).add_class("bk-controls")
        self.matched = widgets.HTML()
        answers = (self.verdict_row, self.day, self.matched)
        self.results = parts.column(*answers).add_class("bk-answers")
        self.hand.watch.follow(self.refresh, *TEACHERS, AnswerRow)
        screen = widgets.Box([controls, self.picture, self.results]).add_class("bk-screen")
        folds = parts.row(*self._folds()).add_class("bk-folds")
        body = parts.column(screen, folds).add_class("bk-screen-place")
        actions = (self.hold_button, self.bench, self.sniff)
        self.lay_out(body, *actions, stale=(self.picture, self.results))

    def _folds(self) -> list[widgets.Accordion]:
        """Details under their titles, filled in while they are open only."""
        self.drops = widgets.HTML()
        self.rounding = parts.Findings("The amounts keep the ratio.")
        self.dilutions = Dilutions(self.editor, self.message)
        unknown = "Nothing is on record; it may cloud or settle all the same."
        self.behaviour = parts.Findings(unknown)
        self.chart = ChartView("bottle", "drops_chart", "Amounts and target ratio, by oil")
        self.limits = ChartView("skin", "limits_chart", "Share of each skin limit, worst first")
        self.bars = ChartView("day", "lasting_chart", "How long each oil is perceived")
        below = (parts.heading("In the bottle"), self.behaviour.view, self.chart)
        table = (self.drops, self.rounding.view, self.dilutions.view, *below)
        self.folds = [
            parts.fold("Table and rounding", *table),
            parts.fold("Drop size and more", self.editor.details, self.calibrator.view),
            parts.fold("Every limit", self.limits),
            parts.fold("Each oil through the day", self.bars),
        ]
        self._fill: tuple[Callable[[], None], ...] = (
            self._show_drops,
            lambda: self.calibrator.offer(self.blend.bottle),
            lambda: setattr(self.limits, "rows", limits_rows(self._now.findings)),
            lambda: setattr(self.bars, "rows", lasting_rows(self._now.lasting)),
        )
        for each in self.folds:
            each.observe(self.message.guard(self._show_folds), "selected_index")
        return self.folds

    def calculate(self, blend: Blend) -> None:
        """Fill the bottle, judge it and forecast its day; all three are shown at once."""
        conditions, put_on_at, by_my_nose = day_in_hand(self.hand.present.document)
        film, matched = film_of(blend.bottle, conditions), ""
        clock: Clock | None = None
        if by_my_nose:
            clock = read_or(lambda _: learnt_clock(conditions.surface), None)
            film, matched = as_smelt(film)
        self._now = state_of(blend, film, put_on_at, clock)
        self.blend, self.judged = blend, self._now.verdict
        self.matched.value = note(f"Forecast {matched}.") if matched else ""
        self._show()
        self._afterwards.ask(self.message.guard(self._show_folds))

    def _show(self) -> None:
        now, held = self._now, self.held
        self.picture.value = bottle_picture(now.blend.bottle, held and held.blend.bottle)
        self.show_verdict(held and held.verdict)
        rows = list(day_rows(now.forecast, now.put_on_at, now.lasting))
        self.day.rows = rows + list(day_rows(held.forecast, held.put_on_at) if held else ())

    def _show_folds(self) -> None:
        for each, fill in zip(self.folds, self._fill, strict=True):
            if each.selected_index is not None:
                fill()
        self.bench.warning = self.sniff.warning = self.judged.warning

    def _show_drops(self) -> None:
        self.chart.rows = drops_rows(self.blend.bottle)
        self.drops.value = sheets.drop_list(self.blend.bottle)
        self.rounding.show(words.remarks(self.blend))
        self.dilutions.offer(self.blend.bottle)
        self.behaviour.show(words.behaviour(self.blend.bottle))

    def hold(self) -> None:
        """Hold what is shown, to compare with; or remove what is held."""
        self.held = None if self.held else self._now
        self.hold_button.description = LET_GO if self.held else HOLD
        self._show()
