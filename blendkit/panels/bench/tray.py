"""The tray: one row of big targets an oil, one row a carrier.

A tap hands an event on; the tray itself keeps nothing. What a tap would break stands on its
button before it is tapped.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape
from typing import Any

import ipywidgets as widgets

from blendkit.blend.filling import MIXING_ORDER
from blendkit.foundation.units import G_PER_KG, ML_PER_M3, show
from blendkit.making.bench_events import Drops, Event, Measured
from blendkit.making.mixture import Mixture, Plan, is_oil
from blendkit.materials import catalogue
from blendkit.materials.amounts import material
from blendkit.panels.kit.parts import heading, number_of

Add = Callable[[Event], bool]  # whether it is written down, and not only asked about
Guard = Callable[[Callable[..., None]], Callable[..., None]]


def with_unit(text: str, unit: str) -> str:
    """What was typed, with the unit that stands beside the box where none was typed.

    Examples
    --------
    >>> with_unit(" 0,350 ", "g"), with_unit("2 mL", "g")
    ('0,350 g', '2 mL')
    """
    bare = text.strip()
    return f"{bare} {unit}" if bare and not isinstance(number_of(bare), str) else bare


def amount_box(unit: str, tooltip: str) -> widgets.Text:
    """A narrow box for a number whose unit stands in it until one types."""
    layout = widgets.Layout(width="58px")
    return widgets.Text(placeholder=unit, tooltip=tooltip, layout=layout)


def big_button(label: str, action: Callable[..., None], tooltip: str = "") -> widgets.Button:
    """A button for oily fingers."""
    made = widgets.Button(
        description=label, tooltip=tooltip, layout=widgets.Layout(width="auto")
    )
    made.add_class("bk-big")
    made.on_click(action)
    return made


class _Row:
    """One material: what is in of it, and ways to put more in."""

    def __init__(self, name: str, plan: Plan, add: Add, guard: Guard) -> None:
        self.material, self.add = name, add
        self._left = 0  # planned drops that are not in yet
        self.name = material(name).name
        self.note = plan.note_of(name) if is_oil(name) else "carrier"
        self.unit = "g" if is_oil(name) else "mL"
        self.words = widgets.HTML()
        self.amount = amount_box(self.unit, f"{self.unit} of {self.name}")
        self.pour = big_button(
            f"+ {self.unit}",
            guard(self.measured),
            f"add what stands in the box of {self.name}",
        )
        self.tap = widgets.Button(
            tooltip=f"one drop of {self.name}", layout=widgets.Layout(width="auto")
        )
        self.tap.add_class("bk-tap")
        self.tap.on_click(guard(self.dropped))
        self.rest = big_button("", guard(self.dropped_rest))
        self.rest.add_class("bk-rest")
        self.pour.add_class("bk-pour")
        taps = [self.tap, self.rest] if is_oil(name) else []
        self.view = widgets.HBox([self.words, *taps, self.amount, self.pour])
        self.view.add_class("bk-row")
        if not taps:
            self.view.add_class("bk-poured")

    def dropped(self) -> None:
        self.add(Drops(self.material, 1))

    def dropped_rest(self) -> None:
        self.add(Drops(self.material, self._left))

    def measured(self) -> None:
        if self.add(Measured(self.material, with_unit(self.amount.value, self.unit))):
            self.amount.value = ""

    def show(self, mixture: Mixture, warnings: list[str]) -> None:
        mass_g = mixture.masses_kg.get(self.material, 0.0) * G_PER_KG
        volume_ml = mixture.volumes_m3.get(self.material, 0.0) * ML_PER_M3
        amount = f"{show(volume_ml)} mL · {show(mass_g)} g" if mass_g else "none yet"
        if is_oil(self.material):
            wished = mixture.plan.wished_drops.get(self.material)
            drops = mixture.drops_now(self.material)
            of = f" of {wished}" if wished is not None else ""
            unit = "drop" if drops == 1 and not of else "drops"
            amount = f"<b>{show(drops)}{of} {unit}</b>"
            amount += f" <span>{mass_g:.3f} g</span>" if mass_g else ""
            self._offer_rest((wished or 0) - drops)
        self.words.value = (
            f'<span class="bk-chip bk-chip-{self.note}" title="{self.note} note"></span>'
            f'<span class="bk-name">{escape(self.name)}<br>'
            f'<span class="bk-in">{amount}</span></span>'
        )
        self.tap.description = "⚠ + 1 drop" if warnings else "+ 1 drop"
        self.tap.tooltip = f"one drop of {self.name}. {' '.join(warnings)}".strip()
        (self.tap.add_class if warnings else self.tap.remove_class)("bk-warned")

    def _offer_rest(self, missing: float) -> None:
        """Offer to log all planned drops that are not in yet at one tap."""
        self._left = max(0, int(missing))
        self.rest.description = f"+ {self._left} left"
        self.rest.tooltip = f"all {self._left} drops of {self.name} that are still planned"
        self.rest.layout.display = None if self._left > 1 else "none"


class BenchTray:
    """Rows for what is planned, what went in, and what was fetched from the shelf.

    Parameters
    ----------
    add : callable
        Takes each event that is tapped.
    guard : callable
        Wraps callbacks, as `Message.guard`.
    fetched : callable
        Called when something was fetched; shows the tray anew.
    """

    def __init__(self, add: Add, guard: Guard, fetched: Callable[[], None]) -> None:
        self._add, self._guard, self._tell_fetched = add, guard, fetched
        self.rows: dict[str, _Row] = {}
        self._fetched: list[str] = []
        self.oils_view, self.carriers_view = widgets.VBox(), widgets.VBox()
        prompt = "+ fetch another oil or carrier …"
        self.chooser = widgets.Dropdown(
            options=[(prompt, ""), *_materials()],
            tooltip=prompt,
            layout=widgets.Layout(width="100%", max_width="380px"),
        )
        self.chooser.observe(guard(self.fetch), "value")
        self.view = widgets.VBox(
            [
                heading("Tap what goes in"),
                self.oils_view,
                self.carriers_view,
                self.chooser,
            ]
        )
        self.view.add_class("bk-tray")

    def begin(self) -> None:
        """Clear the tray for another bottle."""
        self.rows, self._fetched = {}, []

    def fetch(self) -> None:
        """Put a row for the chosen material on the tray."""
        name = self.chooser.value
        if name:
            self._fetched.append(name)
            self.chooser.value = ""
            self._tell_fetched()

    def materials(self) -> list[str]:
        """What is on the tray: base, middle and top notes, then carriers."""
        return list(self.rows)

    def show(self, mixture: Mixture, warnings: Mapping[str, list[str]]) -> None:
        """Show what is in, and on each button what one more drop would break."""
        plan = mixture.plan
        wanted = self.wanted(mixture)
        for name in wanted:
            if name not in self.rows:
                self.rows[name] = _Row(name, plan, self._add, self._guard)
        if list(self.rows) != self._in_order(wanted) or not self.oils_view.children:
            self.rows = {name: self.rows[name] for name in self._in_order(wanted)}
            rows = self.rows.values()
            self.oils_view.children = [row.view for row in rows if row.note != "carrier"]
            self.carriers_view.children = [row.view for row in rows if row.note == "carrier"]
        for name, row in self.rows.items():
            row.show(mixture, warnings.get(name, []))

    def wanted(self, mixture: Mixture) -> dict[str, None]:
        """What belongs on the tray: planned, in the bottle, or fetched."""
        fields = mixture.plan.fields
        planned = [part.oil.id for part in fields.oils]
        planned += [part.carrier.id for part in fields.carriers]
        return dict.fromkeys([*planned, *mixture.amounts, *self._fetched])

    def _in_order(self, names: Mapping[str, Any]) -> list[str]:
        return sorted(names, key=lambda name: MIXING_ORDER.index(self.rows[name].note))


def _materials() -> list[tuple[str, str]]:
    oils = [catalogue.oil(name) for name in catalogue.oil_ids()]
    carriers = [catalogue.carrier(name) for name in catalogue.carrier_ids()]
    named = sorted((oil.name, oil.note, oil.id) for oil in oils)
    poured = sorted((carrier.name, "carrier", carrier.id) for carrier in carriers)
    return [(f"{name} — {note}", key) for name, note, key in [*named, *poured]]
