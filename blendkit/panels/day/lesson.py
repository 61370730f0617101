"""Panel 05: why it fades — ten small steps, each with one picture and something to drag."""

from collections.abc import Callable, Mapping
from html import escape
from types import MappingProxyType
from typing import Any, NamedTuple

import ipywidgets as widgets

from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.schema import NOTES
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.links import notebook_links
from blendkit.panels.kit.section import Section
from blendkit.showing.lesson import rows as lesson_rows
from blendkit.showing.lesson.rows import Shown

_OILS = "Invented mixture: sweet orange, lavender and patchouli in equal parts"
_MIXTURE = f"{_OILS}, in sweet almond. "
Controls = tuple[Any, ...]  # sliding numbers and lists to choose from


class Lesson(NamedTuple):
    """One step of the lesson.

    Attributes
    ----------
    chart : str
        Name of its function in `blendkit.showing.lesson.charts`.
    label : str
        What the chart shows, for people who cannot see it.
    controls : callable
        Makes what can be dragged or chosen.
    rows : callable
        From the values of the controls, in their order, to what is shown.
    basis : str
        How well the figures are known.
    """

    chart: str
    label: str
    controls: Callable[[], Controls]
    rows: Callable[..., Shown]
    basis: str


class LessonPanel(Section, parts.Panel):
    """One step of the lesson.

    Parameters
    ----------
    step : int
        From 1 to 10.

    Attributes
    ----------
    shown : Shown
        The last good result: rows and sentence.

    Raises
    ------
    BadNumber
        There is no such step.
    """

    shown: Shown

    def __init__(self, step: int) -> None:
        if step not in STEPS:
            needed = f"a whole number from 1 to {len(STEPS)}"
            raise BadNumber([Problem("step", quoted(step), needed)])
        self.step = STEPS[step]
        self.chart = ChartView("lesson", self.step.chart, self.step.label)
        self.sentence = widgets.HTML()
        super().__init__(self.chart, self.sentence, parts.hint(self.step.basis))
        self.controls = self.step.controls()
        boxes = (getattr(control, "box", control) for control in self.controls)
        parts.observe(self.message.guard(self.update), *boxes)
        views = [getattr(control, "view", control) for control in self.controls]
        row = widgets.Box(views, layout=widgets.Layout(flex_flow="row wrap"))
        links = [notebook_links("05_why_it_fades")] if step == min(STEPS) else []
        self.view = parts.panel_frame(*links, row, self.message.view, self.found)
        self.update()

    def update(self) -> None:
        """Draw the chart again from the controls."""
        self.attempt(self._draw)

    def _draw(self) -> None:
        self.shown = self.step.rows(*(control.value for control in self.controls))
        self.chart.rows = self.shown.rows
        self.chart.label = f"{self.step.label}. {self.shown.sentence}"
        status = f'<p role="status" aria-live="polite">{escape(self.shown.sentence)}</p>'
        self.sentence.value = status


def _choice(label: str, options: list[tuple[str, str]], chosen: str) -> widgets.Dropdown:
    return parts.choice(label, options, "345px", value=chosen)  # so that three fit in one row


def _oil() -> Controls:
    return (_choice("Oil", lesson_rows.oils_to_choose(), lesson_rows.OILS[1]),)


def _slider(*settings: Any) -> Callable[[], Controls]:
    return lambda: (parts.SlidingNumber(*settings),)


def _draws() -> Controls:
    return (
        parts.SlidingNumber("Lines", "30", 2, 60, 1),
        _choice("Note", [(f"{note} note", note) for note in NOTES], "middle"),
        _choice("Uncertain", [(c, c) for c in lesson_rows.CAUSES], lesson_rows.ALL_AT_ONCE),
    )


STEPS: Mapping[int, Lesson] = MappingProxyType(
    {
        1: Lesson(
            "pressures_chart",
            "Vapour pressures of three molecules of one oil, with their ranges",
            _oil,
            lesson_rows.pressures,
            "The grade of each figure is behind its name: read at its source, part-read, "
            "memory, or estimated by a named method. Hover to see which.",
        ),
        2: Lesson(
            "warmth_chart",
            "Vapour of three molecules at the skin's warmth, in multiples of that at 25 °C",
            _slider("Skin", "32 °C", 20, 40, 0.5, "°C"),
            lesson_rows.warmth,
            "Behind each name: how its heat of evaporation is known, which decides. That bare "
            "skin is usually near 32 °C is from memory.",
        ),
        3: Lesson(
            "shares_chart",
            "What the film is made of, by number of molecules and by mass",
            _slider("Oils in it", "20 %", 2, 40, 1, "%"),
            lesson_rows.shares,
            _MIXTURE + "Shares follow from the analyses on record. The speed also counts how "
            "well a molecule gets on with its neighbours, which is estimated.",
        ),
        4: Lesson(
            "lift_chart",
            "Three oils through eight hours: share of what is left, and own amount",
            _slider("Oils in it", "20 %", 2, 40, 1, "%"),
            lesson_rows.lift,
            _MIXTURE + "Computed by the model; its vapour pressures are read or estimated, its "
            "air is partly from memory.",
        ),
        5: Lesson(
            "carriers_chart",
            "Time until half of each oil has gone, for carriers of several kinds and for none",
            _slider("Oils in it", "20 %", 10, 50, 1, "%"),
            lesson_rows.carriers,
            _OILS + ". How molecules get on with each carrier is "
            "estimated, and the times are forecasts: step 10 shows how far they may be off.",
        ),
        6: Lesson(
            "amounts_chart",
            "What is left of three oils through eight hours, as set here and as usual",
            _slider("Applied", "40 g/m²", 5, 50, 1, "g/m²"),
            lesson_rows.amounts,
            _MIXTURE + "Usual is 20 g/m², from memory of common practice in tests of what is "
            "spread on skin; there is no figure on record for a roller.",
        ),
        7: Lesson(
            "amounts_chart",
            "What is left of three oils through eight hours, in this air and in still air",
            _slider("Air", "1 m/s", 0.05, 2, 0.05, "m/s"),
            lambda speed: lesson_rows.amounts(air_speed=speed),
            _MIXTURE + "Usual is 0.2 m/s, still air in a room. How moving air speeds things "
            "up is a rule from memory; in a room it may be off 1.6 times, by judgement.",
        ),
        8: Lesson(
            "skin_chart",
            "Which share of five molecules goes into the air, and which into the skin",
            _slider("Skin uptake", "1", 0.2, 5, 0.1),
            lambda times: lesson_rows.skin(parts.number_of(times)),
            "The skin's uptake comes from three formulas that are from memory and may be five "
            "times too high or too low. That is what the slider is for: 1 is what they say.",
        ),
        9: Lesson(
            "nose_chart",
            "Three notes through eight hours: the vapour itself, and what a nose notices",
            _slider("Exponent", "0.35", 0.2, 0.8, 0.05),
            lambda exponent: lesson_rows.nose(parts.number_of(exponent)),
            _MIXTURE + "Exponents read for single smells run from 0.2 to 0.8; the usual 0.35 "
            "is from memory.",
        ),
        10: Lesson(
            "draws_chart",
            "One note through eight hours, drawn many times with other figures",
            _draws,
            lambda lines, note, cause: lesson_rows.draws(note, cause, parts.number_of(lines)),
            _MIXTURE + "How far air, load, warmth and skin may be off is judgement; how far "
            "each vapour pressure may be off goes by how it is known.",
        ),
    }
)
