"""The parts of every panel: columns, boxes that know their unit, choosers, buttons."""

from collections.abc import Callable, Iterable, Sequence
from html import escape
from typing import Any

import anywidget
import ipywidgets as widgets

from blendkit.blend.filling import Filling
from blendkit.foundation.shipping import package_text
from blendkit.materials import catalogue
from blendkit.panels.kit.deferred import Deferred
from blendkit.panels.kit.message import Message as Message  # noqa: PLC0414
from blendkit.panels.kit.message import answer_place
from blendkit.panels.kit.message import grey as grey  # noqa: PLC0414
from blendkit.panels.kit.style import STYLE
from blendkit.panels.kit.typed import LABEL_WIDTH as LABEL_WIDTH  # noqa: PLC0414
from blendkit.panels.kit.typed import SlidingNumber as SlidingNumber  # noqa: PLC0414
from blendkit.panels.kit.typed import labelled as labelled  # noqa: PLC0414
from blendkit.panels.kit.typed import number_of as number_of  # noqa: PLC0414
from blendkit.panels.kit.typed import price_of as price_of  # noqa: PLC0414
from blendkit.panels.kit.typed import with_unit as with_unit  # noqa: PLC0414
from blendkit.showing.bottle.pictures import bottle_picture


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


def text_box(label: str, value: str = "", width: str = "300px", **options: Any) -> widgets.Text:
    """A labelled text box that reports when the person has finished typing."""
    return unit_box(label, "", value, width, **options)


def unit_box(
    label: str,
    unit: str | Callable[[], str],
    value: str = "",
    width: str = "210px",
    **options: Any,
) -> QuantityBox:
    """A labelled text box with a unit; read its `quantity`."""
    options |= {"value": value, "continuous_update": False}
    made = QuantityBox(**labelled(label, width), **options)
    made.unit = unit
    return made


def choice(
    label: str, options: Sequence[Any], width: str = "380px", **more: Any
) -> widgets.Dropdown:
    """A labelled list to choose from."""
    return widgets.Dropdown(options=options, **labelled(label, width), **more)


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
