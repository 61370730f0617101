"""What else happens at the bench: fallen drops, a spill, a reading, another bottle, a word."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.journal.records import Version
from blendkit.keeping.open_store import the_journal
from blendkit.making.bench_events import (
    LEFT,
    LOST,
    Fell,
    MixedIn,
    Remark,
    ScaleSays,
    Spilled,
)
from blendkit.making.bench_words import name_of
from blendkit.making.mixture import is_oil
from blendkit.panels.bench.tray import Add, Guard, with_unit
from blendkit.panels.bottle.kept_blends import version_options
from blendkit.panels.kit.parts import LABEL_WIDTH, button, heading, number_of, set_options

_ALL = "all in the bottle"


class Happenings:
    """Small forms; each hands one event on.

    Parameters
    ----------
    add : callable
        Takes each event.
    guard : callable
        Wraps callbacks, as `Message.guard`.
    """

    def __init__(self, add: Add, guard: Guard) -> None:
        self._add = add
        self.fell_count = _box("Drops", "2", "how many drops fell in unmeant")
        self.fell_what = _list("of", "which oil fell in")
        self.spill = _box("Amount", "", "how much was spilled or is left", "1 mL or 0.9 g")
        self.reading = _box("Scale says", "", "what the scale shows", "3.42 g")
        self.weighed = _list("for", "what was weighed")
        self.other = _list("of", "which kept blend is poured in")
        self.other_amount = _box("Amount", "", "how much of the other bottle", "2 mL or 1.8 g")
        self.remark = widgets.Textarea(
            placeholder="too sharp; another drop of …",
            description="In words",
            tooltip="a remark for the log",
            rows=2,
            layout=widgets.Layout(width="400px"),
            style={"description_width": LABEL_WIDTH},
        )
        lost = button("So much was lost", guard(lambda: self.spilled(LOST)))
        left = button("So much is left", guard(lambda: self.spilled(LEFT)))
        said = button("That is what it says", guard(self.scale))
        self.view = widgets.VBox(
            [
                heading("Drops fell in that nobody meant"),
                _row(self.fell_count, self.fell_what, button("They fell in", guard(self.fell))),
                heading("I spilled"),
                _row(self.spill, lost, left),
                heading("The scale says something"),
                _row(self.reading, self.weighed, said),
                heading("Some of another bottle goes in"),
                _row(self.other_amount, self.other, button("It went in", guard(self.mixed_in))),
                heading("A remark"),
                _row(self.remark, button("Write it down", guard(self.write_down))),
            ]
        )

    def offer(self, materials: list[str]) -> None:
        """Offer what is on the tray."""
        named: list[tuple[str, Any]] = [(name_of(name), name) for name in materials]
        set_options(self.fell_what, [(words, name) for words, name in named if is_oil(name)])
        set_options(self.weighed, [(_ALL, ""), *named])

    def list_kept(self) -> None:
        """Offer the bottles in the journal; `CannotJournal` where it cannot be read."""
        set_options(self.other, version_options("a kept blend …"))

    def fell(self) -> None:
        """Log drops that fell in."""
        count: Any = number_of(self.fell_count.value)
        self._add(Fell(self.fell_what.value or "", count))

    def spilled(self, means: str) -> None:
        """Log a spill, by what was lost or by what is left."""
        self._add(Spilled(self.spill.value.strip(), means))
        self.spill.value = ""

    def scale(self) -> None:
        """Log a reading; a bare number counts as grams, which the box stands for."""
        self._add(ScaleSays(with_unit(self.reading.value, "g"), self.weighed.value or ""))
        self.reading.value = ""

    def mixed_in(self) -> None:
        """Log that some of a kept blend's bottle went in."""
        if self.other.value:
            label = self.other.label
            version = the_journal().get(Version, self.other.value)
            fractions = Blend.from_dict(version.document).bottle.mass_fractions()
            if self._add(MixedIn(label, fractions, self.other_amount.value.strip())):
                self.other_amount.value = ""

    def write_down(self) -> None:
        """Log a remark."""
        self._add(Remark(self.remark.value.strip()))
        self.remark.value = ""


def _row(*parts: widgets.Widget) -> widgets.HBox:
    """Side by side where there is room."""
    return widgets.HBox(list(parts), layout=widgets.Layout(flex_flow="row wrap"))


def _box(label: str, value: str, tooltip: str, placeholder: str = "") -> widgets.Text:
    return widgets.Text(
        value=value,
        description=label,
        tooltip=tooltip,
        placeholder=placeholder,
        layout=widgets.Layout(width="240px"),
        style={"description_width": LABEL_WIDTH},
    )


def _list(label: str, tooltip: str) -> widgets.Dropdown:
    return widgets.Dropdown(
        description=label,
        tooltip=tooltip,
        layout=widgets.Layout(width="300px"),
        style={"description_width": "70px"},
    )
