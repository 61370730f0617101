"""Tray: a row of large buttons for each oil and carrier.

A tap creates an event; the tray itself keeps nothing. A limit that a tap would pass is shown on
its button beforehand.
"""

from collections.abc import Callable, Mapping
from html import escape

import ipywidgets as widgets

from blendkit.blend.filling import MIXING_ORDER
from blendkit.foundation.units import G_PER_KG, ML_PER_M3, counted, show
from blendkit.making.bench_events import Drops, Event, Measured
from blendkit.making.mixture import Mixture, Plan, is_oil
from blendkit.materials import catalogue
from blendkit.panels.kit import parts
from blendkit.skin.check import marked_name, options

_ADD = "+ add another oil or carrier …"
Add = Callable[[Event], bool]  # True where it is recorded, and not only asked about
Guard = Callable[[Callable[..., None]], Callable[..., None]]


def big_button(
    label: str, action: Callable[..., None], tooltip: str = "", css: str = "bk-big"
) -> widgets.Button:
    """A button for oily fingers."""
    layout = widgets.Layout(width="auto")
    made = widgets.Button(description=label, tooltip=tooltip, layout=layout).add_class(css)
    made.on_click(action)
    return made


class _Row:
    """One material: its amount in the bottle, and buttons to add more."""

    def __init__(self, name: str, plan: Plan, add: Add, guard: Guard) -> None:
        self.material, self.add = name, add
        self.left = 0  # planned drops not added yet
        self.name = marked_name(name)
        self.note = plan.note_of(name)
        unit = "g" if is_oil(name) else "mL"
        self.words = widgets.HTML()
        box = {"placeholder": unit, "tooltip": f"{unit} of {self.name}"}
        self.amount = parts.unit_box("", unit, width="58px", **box)
        tip = f"add the amount typed for {self.name}"
        pour = big_button(f"+ {unit}", guard(self.add_amount), tip).add_class("bk-pour")
        self.tap = big_button("", guard(self.add_drop), css="bk-tap")
        self.rest = big_button("", guard(self.add_rest)).add_class("bk-rest")
        taps = [self.tap, self.rest] if is_oil(name) else []
        self.view = parts.row(self.words, *taps, self.amount, pour).add_class("bk-row")
        if not taps:
            self.view.add_class("bk-poured")

    def add_drop(self) -> None:
        self.add(Drops(self.material, 1))

    def add_rest(self) -> None:
        self.add(Drops(self.material, self.left))

    def add_amount(self) -> None:
        if self.add(Measured(self.material, self.amount.quantity)):
            self.amount.value = ""

    def show(self, mixture: Mixture, warnings: list[str]) -> None:
        added, target, amount = self._describe(mixture)
        is_done = bool(target) and show(added) == show(target)
        if is_oil(self.material):
            self.left = max(0, int(target - added))
            self.rest.description = f"add {self.left}"
            self.rest.tooltip = f"add the remaining {self.left} drops of {self.name}"
            self.rest.layout.display = None if self.left > 1 else "none"
        if target and is_oil(self.material) and added > target:
            amount += f' <b class="bk-too-many">{show(added - target)} too many</b>'
        self.words.value = (
            f'<span class="bk-chip bk-chip-{self.note}" title="{self.note} note"></span>'
            f'<span class="bk-name">{escape(self.name)}<br>'
            f'<span class="bk-in">{"✓ " if is_done else ""}{amount}</span></span>'
        )
        (self.view.add_class if is_done else self.view.remove_class)("bk-done")
        self.tap.description = "⚠ + 1 drop" if warnings else "+ 1 drop"
        self.tap.tooltip = f"one drop of {self.name}. {' '.join(warnings)}".strip()
        (self.tap.add_class if warnings else self.tap.remove_class)("bk-warned")

    def _describe(self, mixture: Mixture) -> tuple[float, float, str]:
        """Amount added and planned, in drops, g or mL, and both in words."""
        name, plan = self.material, mixture.plan
        grams = mixture.masses_kg.get(name, 0.0) * G_PER_KG
        if plan.target_kg and is_oil(name):
            added, target, unit = grams, plan.target_kg.get(name, 0.0) * G_PER_KG, "g"
        elif is_oil(name):
            added, target = mixture.drops_now(name), plan.target_drops.get(name, 0)
            unit = "drop" if (target or added) == 1 else "drops"
        else:
            added = mixture.volumes_m3.get(name, 0.0) * ML_PER_M3
            target, unit = plan.target_carriers_m3.get(name, 0.0) * ML_PER_M3, "mL"
        of = f" of {show(target)}" if target else ""
        weight = f" <span>{grams:.3f} g</span>" if grams and unit != "g" else ""
        return added, target, f"<b>{show(added)}{of} {unit}</b>{weight}"


class BenchTray:
    """Rows for materials planned, in the bottle, or added to the tray.

    Parameters
    ----------
    add : callable
        Takes each event that is tapped.
    guard : callable
        Wraps callbacks, as `Message.guard`.
    changed : callable
        Called when a material was added to the tray.
    """

    def __init__(self, add: Add, guard: Guard, changed: Callable[[], None]) -> None:
        self._add, self._guard, self._changed = add, guard, changed
        self.rows: dict[str, _Row] = {}
        self._extra: list[str] = []
        self.oils_view, self.carriers_view = widgets.VBox(), widgets.VBox()
        self.chooser = parts.choice("", _materials(), tooltip=_ADD)
        self.chooser.observe(guard(self.add_material), "value")
        self.rest = big_button("", guard(self.add_rest))
        self.view = parts.column(
            parts.heading("Tap each addition"),
            self.oils_view,
            self.rest,
            self.carriers_view,
            self.chooser,
        )
        self.view.add_class("bk-tray")

    def begin(self) -> None:
        """Clear the tray for another bottle."""
        self.rows, self._extra = {}, []

    def add_material(self) -> None:
        """Add a row for the chosen material."""
        name = self.chooser.value
        if name:
            self._extra.append(name)
            self.chooser.value = ""
            self._changed()

    def add_rest(self) -> None:
        """Add the planned drops of every oil not added yet, until one has to be asked about."""
        for row in self.rows.values():
            if row.left and not self._add(Drops(row.material, row.left)):
                break

    def show(self, mixture: Mixture, warnings: Mapping[str, list[str]]) -> None:
        """Show the amounts, and on each button the limits one more drop would pass."""
        names = self.list_materials(mixture)
        for name in names:
            if name not in self.rows:
                self.rows[name] = _Row(name, mixture.plan, self._add, self._guard)
        in_order = sorted(names, key=lambda name: MIXING_ORDER.index(self.rows[name].note))
        if list(self.rows) != in_order or not self.oils_view.children:
            self.rows = {name: self.rows[name] for name in in_order}
            rows = self.rows.values()
            self.oils_view.children = [row.view for row in rows if row.note != "carrier"]
            self.carriers_view.children = [row.view for row in rows if row.note == "carrier"]
        for name, row in self.rows.items():
            row.show(mixture, warnings.get(name, []))
        left = sum(row.left for row in self.rows.values())
        words = f"Add the remaining {counted(left, 'planned drop')}"
        self.rest.description = words if left else "All planned drops are in"
        self.rest.disabled = not left
        self.rest.layout.display = None if mixture.plan.target_drops else "none"

    def refresh(self) -> None:
        """Offer what is on the shelf now."""
        parts.set_options(self.chooser, _materials())

    def list_materials(self, mixture: Mixture) -> dict[str, None]:
        """List the materials planned, in the bottle, or added to the tray."""
        fields = mixture.plan.fields
        planned = [part.oil.id for part in fields.oils]
        planned += [part.carrier.id for part in fields.carriers]
        return dict.fromkeys([*planned, *mixture.amounts, *self._extra])


def _materials() -> list[tuple[str, str]]:
    oils = sorted(options(catalogue.oil_ids()))
    noted = [(f"{name} — {catalogue.oil(key).note}", key) for name, key in oils]
    poured = ((f"{name} — carrier", key) for name, key in parts.carrier_options())
    return [(_ADD, ""), *noted, *poured]
