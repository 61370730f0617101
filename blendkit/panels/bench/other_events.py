"""Other bench events: accidental drops, a spill, a reading, another bottle, a remark."""

from typing import Any

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.journal.records import Version
from blendkit.keeping.open_store import the_journal
from blendkit.making import bench_events as events
from blendkit.making.mixture import is_oil
from blendkit.panels.bench.tray import Add, Guard
from blendkit.panels.bottle.kept_blends import version_options
from blendkit.panels.kit import parts
from blendkit.skin.check import options

_ALL = "the whole mixture"


class OtherEvents:
    """Small forms, one for each event.

    Parameters
    ----------
    add : callable
        Takes each event.
    guard : callable
        Wraps callbacks, as `Message.guard`.
    """

    def __init__(self, add: Add, guard: Guard) -> None:
        self._add = add
        self.accidental_count = parts.text_box(
            "Drops", "2", "240px", tooltip="number of accidental drops"
        )
        self.accidental_oil = parts.choice("of", [], tooltip="oil of the accidental drops")
        self.spill = _box("Amount", "mL", "amount spilled or left", "1 mL or 0.9 g")
        self.reading = _box("Reading", "g", "reading of the scale", "3.42 g")
        self.weighed = parts.choice("of", [], tooltip="material weighed")
        self.other = parts.choice("of", [], tooltip="kept blend of the other bottle")
        self.other_amount = _box("Amount", "mL", "amount of the other bottle", "2 mL or 1.8 g")
        self.remark = widgets.Textarea(
            placeholder="too sharp; another drop of …",
            description="In words",
            tooltip="a remark for the log",
            rows=2,
            layout=widgets.Layout(width="400px"),
            style={"description_width": parts.LABEL_WIDTH},
        )
        fell = parts.button("Add accidental drops", guard(self.add_accidental))
        lost = parts.button("Record amount spilled", guard(lambda: self.add_spill(events.LOST)))
        left = parts.button("Record amount left", guard(lambda: self.add_spill(events.LEFT)))
        record = parts.button("Record reading", guard(self.add_reading))
        mix = parts.button("Add", guard(self.add_bottle))
        self.view = parts.column(
            parts.heading("Extra drops by accident"),
            parts.row(self.accidental_count, self.accidental_oil, fell),
            parts.heading("Spill"),
            parts.row(self.spill, lost, left),
            parts.heading("Scale reading"),
            parts.row(self.reading, self.weighed, record),
            parts.heading("Add from another bottle"),
            parts.row(self.other_amount, self.other, mix),
            parts.heading("Remark"),
            parts.row(self.remark, parts.button("Add remark", guard(self.add_remark))),
        )

    def offer(self, materials: list[str]) -> None:
        """Offer the materials on the tray."""
        parts.set_options(self.accidental_oil, options(filter(is_oil, materials)))
        parts.set_options(self.weighed, [(_ALL, ""), *options(materials)])

    def list_kept(self) -> None:
        """Offer the bottles in the journal; `CannotJournal` where it cannot be read."""
        parts.set_options(self.other, version_options("a kept blend …"))

    def add_accidental(self) -> None:
        """Log accidental drops."""
        count: Any = parts.number_of(self.accidental_count.value)
        self._add(events.AccidentalDrops(self.accidental_oil.value or "", count))

    def add_spill(self, means: str) -> None:
        """Log a spill, by the amount lost or left."""
        self._add(events.Spilled(self.spill.quantity, means))
        self.spill.value = ""

    def add_reading(self) -> None:
        """Log a scale reading."""
        self._add(events.ScaleReading(self.reading.quantity, self.weighed.value or ""))
        self.reading.value = ""

    def add_bottle(self) -> None:
        """Log an amount of a kept blend's bottle."""
        if self.other.value:
            label = self.other.label
            version = the_journal().get(Version, self.other.value)
            fractions = Blend.from_dict(version.document).bottle.mass_fractions()
            if self._add(events.MixedIn(label, fractions, self.other_amount.quantity)):
                self.other_amount.value = ""

    def add_remark(self) -> None:
        """Log a remark."""
        self._add(events.Remark(self.remark.value.strip()))
        self.remark.value = ""


def _box(label: str, unit: str, tooltip: str, placeholder: str) -> parts.QuantityBox:
    return parts.unit_box(label, unit, "", "240px", tooltip=tooltip, placeholder=placeholder)
