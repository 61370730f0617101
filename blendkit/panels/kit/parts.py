"""The parts of every panel: boxes that know their unit, sliders, buttons, findings.

What a person types is never changed: the text box is the truth, a slider only a handle.
"""

from __future__ import annotations

import re
import time
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from html import escape
from typing import Any

import anywidget
import ipywidgets as widgets

from blendkit.blend.filling import Filling
from blendkit.foundation.shipping import package_text
from blendkit.foundation.units import in_print
from blendkit.materials import catalogue
from blendkit.panels.kit.deferred import Deferred
from blendkit.panels.kit.message import Message as Message  # noqa: PLC0414
from blendkit.panels.kit.message import answer_place
from blendkit.panels.kit.message import grey as grey  # noqa: PLC0414
from blendkit.panels.kit.style import STYLE
from blendkit.showing.bottle.pictures import bottle_picture

LABEL_WIDTH = "118px"
_ECHO_SECONDS = 2.0  # after which a slider that goes back there was moved by a person


class Panel:
    """A panel: a view for the page, and plain values for a cell.

    Attributes
    ----------
    view : ipywidgets.Widget
        What the page shows.
    """

    view: widgets.Widget

    def _repr_mimebundle_(self, **options: Any) -> Any:
        return self.view._repr_mimebundle_(**options)


class _SpokenNames(anywidget.AnyWidget):
    """Ties names to the controls of their panel, for those who cannot see them."""

    _esm = package_text("panels/kit/spoken_names.js")


def panel_frame(*children: widgets.Widget) -> widgets.VBox:
    """The frame all panels share."""
    return column(widgets.HTML(STYLE), *children, _SpokenNames()).add_class("bk-panel")


def columns(*children: widgets.Widget) -> widgets.Box:
    """Side by side where there is room, one below the other where there is not."""
    return widgets.Box(children).add_class("bk-columns")


def column(*children: widgets.Widget) -> widgets.VBox:
    """One below the other; the answer to a press is shown below its button."""
    return widgets.VBox([each for child in children for each in (child, *answer_place(child))])


def row(*children: widgets.Widget) -> widgets.HBox:
    """Side by side; the answer to a press of a button among them is shown below."""
    return widgets.HBox([*children, *answer_place(*children)])


def fold(title: str, *children: widgets.Widget) -> widgets.Accordion:
    """Closed under a title until somebody opens it."""
    return widgets.Accordion([column(*children)], titles=[title])


def hint(text: str) -> widgets.HTML:
    """A faint line of advice; the text is escaped."""
    return widgets.HTML(f'<p class="bk-faint">{escape(text)}</p>')


def results(*children: widgets.Widget) -> widgets.VBox:
    """Results of a panel, in a column that takes the room left."""
    return column(*children).add_class("bk-results")


def heading(text: str) -> widgets.HTML:
    """A small heading; the text is escaped."""
    return widgets.HTML(f"<h2>{escape(text)}</h2>")


def text_box(label: str, value: str = "", width: str = "300px", **options: Any) -> widgets.Text:
    """A labelled text box that reports when the person has finished typing."""
    return widgets.Text(**_text_options(label, value, width), **options)


def _text_options(label: str, value: str, width: str) -> dict[str, Any]:
    return {
        "value": value,
        "description": label,
        "continuous_update": False,
        "layout": widgets.Layout(width=width, max_width="calc(100% - 4px)"),
        "style": {"description_width": LABEL_WIDTH},
    }


class QuantityBox(widgets.Text):  # type: ignore[misc]
    """A text box that knows its unit.

    Attributes
    ----------
    unit : str or callable
        Of a bare number; called where it depends on another box, such as the currency.
    """

    unit: str | Callable[[], str] = ""

    @property
    def quantity(self) -> str:
        """What was typed; a bare number with the unit of the box."""
        return with_unit(self.value, self.unit if isinstance(self.unit, str) else self.unit())


def unit_box(
    label: str,
    unit: str | Callable[[], str],
    value: str = "",
    width: str = "210px",
    **options: Any,
) -> QuantityBox:
    """A labelled text box with a unit; read its `quantity`."""
    made = QuantityBox(**_text_options(label, value, width), **options)
    made.unit = unit
    return made


def choice(
    label: str, options: Sequence[Any], width: str = "380px", **more: Any
) -> widgets.Dropdown:
    """A labelled list to choose from."""
    return widgets.Dropdown(
        options=options,
        description=label,
        layout=widgets.Layout(width=width, max_width="calc(100% - 4px)"),
        style={"description_width": LABEL_WIDTH},
        **more,
    )


def button(label: str, action: Callable[..., None]) -> widgets.Button:
    """A button as wide as its words."""
    layout = widgets.Layout(width="fit-content", max_width="calc(100% - 4px)", flex="0 0 auto")
    made = widgets.Button(description=label, layout=layout)

    def pressed(press: Any) -> None:
        Deferred.finish_all()
        action(press)

    made.on_click(pressed)
    return made


def observe(action: Callable[..., None], *controls: widgets.Widget, of: str = "value") -> None:
    """Call back after every change of some controls."""
    for control in controls:
        control.observe(action, of)


def carrier_options() -> list[tuple[str, str]]:
    """Every carrier on record, to choose from by its name."""
    known = map(catalogue.carrier, catalogue.carrier_ids())
    return sorted((carrier.name, carrier.id) for carrier in known)


def shorten(text: str, longest: int = 60) -> str:
    """Shorten a text to fit on a button or into a list."""
    return text if len(text) <= longest else f"{text[: longest - 1]}…"


def set_options(choice: widgets.Dropdown, options: list[tuple[str, Any]]) -> None:
    """Change what can be chosen without losing what is chosen."""
    if list(choice.options) != options:
        chosen = choice.value
        choice.options = options
        values = [value for _, value in options]
        # a list that was empty would choose nothing by itself
        choice.value = chosen if chosen in values else next(iter(values), None)


def tick(label: str, *, ticked: bool = False) -> widgets.Checkbox:
    """A box to tick, as wide as its words."""
    layout = widgets.Layout(width="auto")
    return widgets.Checkbox(value=ticked, description=label, indent=False, layout=layout)


def titled_bottle(title: str, filling: Filling) -> widgets.VBox:
    """A bottle under its title: next to another one where its labels stay readable."""
    picture = widgets.HTML(bottle_picture(filling))
    half = widgets.Layout(flex="1 1 330px", max_width="420px")
    return widgets.VBox([heading(title), picture], layout=half)


def number_of(text: str) -> float | str:
    """A typed number, or the text itself where it is none (so that a check can say so)."""
    plain = text.strip().replace(",", ".")
    try:
        return int(plain) if plain.lstrip("+-").isdigit() else float(plain)
    except ValueError:
        return text


def with_unit(text: str, unit: str) -> str:
    """Add the unit of the box to a number typed without one.

    Examples
    --------
    >>> with_unit(" 0,350 ", "g"), with_unit("2 mL", "g")
    ('0,350 g', '2 mL')
    >>> with_unit("20", "× 10 mL"), with_unit("20 × 30 + 4 × 5", "× 10 mL")
    ('20 × 10 mL', '20 × 30 mL + 4 × 5 mL')
    """
    bare = text.strip()
    if unit.startswith("×"):  # a box of bottles
        size = rf"\1 {unit.rpartition(' ')[2]} "
        bare = re.sub(r"([×x*]\s*[\d.,]+)\s*(?=\+|$)", size, bare).strip()
    is_number = bare and not isinstance(number_of(bare), str)
    return f"{bare} {unit}".strip() if is_number else bare


def price_of(text: str, currency: str) -> dict[str, Any]:
    """A typed price and its currency, which is that of the panel where none is typed.

    Examples
    --------
    >>> price_of("0,80", "EUR"), price_of("7 USD", "EUR")
    ({'price': 0.8, 'currency': 'EUR'}, {'price': 7, 'currency': 'USD'})
    """
    number, _, code = text.strip().rpartition(" ")
    if not number:
        number, code = text, currency.strip()
    return {"price": number_of(number), "currency": code}


class SlidingNumber:
    """A number to drag or to type.

    Parameters
    ----------
    label : str
    value : str
        As a person would type it, unit included where it has one.
    low, high, step : float
        Range of the slider only; the box takes anything.
    unit : str, optional
        Of a bare number. Written behind it when the slider moves, as `units.in_print` does.
    """

    def __init__(
        self, label: str, value: str, low: float, high: float, step: float, unit: str = ""
    ) -> None:
        self.unit = unit
        self.slider = widgets.FloatSlider(
            description=label,
            min=low,
            max=high,
            step=step,
            readout=False,
            layout=widgets.Layout(width="290px"),
            style={"description_width": LABEL_WIDTH},
        )
        self.box = widgets.Text(
            value=value,
            tooltip=label,
            continuous_update=False,
            layout=widgets.Layout(width="76px"),
        )
        self._given: deque[tuple[float, float]] = deque(maxlen=16)  # when, and which number
        self._follow_box()
        self.slider.observe(self._from_slider, "value")
        self.box.observe(self._follow_box, "value")
        self.view = widgets.HBox([self.slider, self.box])

    @property
    def value(self) -> str:
        """Text of the box; a bare number with the unit."""
        return with_unit(self.box.value, self.unit)

    @value.setter
    def value(self, text: str) -> None:
        self.box.value = text

    def show_number(self, number: object) -> None:
        """Write a number, unless the box says it already in its own way."""
        if number_of(self.value) != number:
            self.value = f"{number:g}" if isinstance(number, float) else f"{number}"

    def disable(self, *, disabled: bool) -> None:
        """Grey the number while it changes nothing."""
        self.slider.disabled = self.box.disabled = disabled

    def on_change(self, callback: Callable[[Any], None]) -> None:
        """Call back whenever the value changes, dragged or typed."""
        self.box.observe(callback, "value")

    def _from_slider(self, change: Any) -> None:
        if not self.slider._property_lock:  # held while the page reports
            self._given.append((time.monotonic(), change["new"]))
        elif self._is_late(change["new"]):
            self._follow_box()
            return
        if not self._is_at(number_of(self._bare()), change["new"]):
            with self.box.hold_sync():  # what follows from the number is sent before it
                self.box.value = f"{change['new']:g}{' ' if self.unit else ''}{self.unit}"

    def _follow_box(self, _: Any = None) -> None:
        number = number_of(self._bare())
        if isinstance(number, str) or self._is_at(number, self.slider.value):
            return
        if self.slider.min <= number <= self.slider.max:
            self.slider.value = number

    def _is_late(self, place: float) -> bool:
        """True where a page reports a place that it was given shortly before the present one.

        It reports what it was given, rounded, and that may come after the next change.
        """
        *earlier, (_, last) = self._given or [(0.0, place)]
        since, near = time.monotonic() - _ECHO_SECONDS, self.slider.step * 0.01
        late = any(at > since and abs(one - place) < near for at, one in earlier)
        return late and abs(last - place) > near

    def _is_at(self, number: float | str, place: float) -> bool:
        """True where a number is at the slider, which takes whole steps only.

        The page puts the handle of 15.5 on 16 and reports it; that is no change of the number.
        """
        return isinstance(number, int | float) and abs(number - place) < self.slider.step * 0.51

    def _bare(self) -> str:
        return in_print(self.value).strip().removesuffix(self.unit).strip()


class Findings:
    """A list of sentences."""

    def __init__(self, nothing: str) -> None:
        self.nothing = nothing
        self.view = widgets.HTML()

    def show(self, sentences: Iterable[str]) -> None:
        """Show the sentences, or say that there are none."""
        items = "".join(f"<li>{escape(sentence)}</li>" for sentence in sentences)
        empty = f'<p class="bk-faint">{escape(self.nothing)}</p>'
        self.view.value = f'<ul class="bk-findings">{items}</ul>' if items else empty
