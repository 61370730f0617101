"""Rows of materials with their parts, and a chooser that adds one."""

import contextlib
from collections.abc import Callable, Mapping
from html import escape
from typing import Any

import ipywidgets as widgets

from blendkit.foundation.errors import UnknownMaterial, quoted
from blendkit.foundation.units import counted
from blendkit.materials import catalogue
from blendkit.panels.kit.parts import choice, number_of, set_options, with_unit
from blendkit.skin.check import marked_name

_AMOUNTS = ("mass", "share", "parts")  # keys of which an entry has one
_USUALLY = " — usually "


_Look = dict[type[widgets.Widget], dict[str, widgets.Widget]]


def _shared_look() -> _Look:
    """Layouts and styles that the rows of a list share, so that a page makes each only once."""
    widths = {widgets.Dropdown: "228px", widgets.Text: "52px", widgets.Button: "34px"}
    look = {
        control: {"layout": widgets.Layout(width=width), "style": control.style.klass()}
        for control, width in widths.items()
    }
    return {**look, widgets.HBox: {"layout": widgets.Layout()}}


class IngredientRow:
    """One row: a material, its parts, and a button to take it out."""

    def __init__(
        self, kind: str, options: list[tuple[str, str]], entry: Mapping[str, Any], look: _Look
    ) -> None:
        self.entry, self.kind = dict(entry), kind

        def make(control: type[widgets.Widget], *given: object, **more: object) -> Any:
            return control(*given, **more, **look[control])

        known, chosen = _with(options, entry["id"]), entry["id"]
        self.material = make(widgets.Dropdown, options=known, value=chosen, tooltip=kind)
        self.parts = make(widgets.Text, value=self._amount(), continuous_update=False)
        self.remove = make(widgets.Button, description="×")
        self.fixed = widgets.HTML()
        controls = [self.material, self.parts, self.remove, self.fixed]
        self.view = make(widgets.HBox, controls).add_class("bk-material")
        self.material.observe(self._name_controls, "value")
        self._show_state()

    def _name_controls(self, _: Any = None) -> None:
        """Name box and button by their material, for those who only hear them."""
        name, _, _ = self.material.label.partition(_USUALLY)
        what = "mass" if self.is_weighed else "parts"
        self.parts.tooltip, self.remove.tooltip = f"{what} of {name}", f"take out {name}"

    def show(self, entry: Mapping[str, Any]) -> None:
        """Show another entry of the same material; a box that says it already stays."""
        self.entry = dict(entry)
        if number_of(self.parts.value) != number_of(self._amount()):
            self.parts.value = self._amount()
        self._show_state()

    def _amount(self) -> str:
        amount = str(next((self.entry[key] for key in _AMOUNTS if key in self.entry), 1))
        return amount.removesuffix(" g") if self.is_weighed else amount

    def offer(self, options: list[tuple[str, str]]) -> None:
        """Offer these materials; the one chosen stays."""
        set_options(self.material, _with(options, self.material.value))

    @property
    def is_fixed(self) -> bool:
        """True where its amount is fixed, whatever ratio and strength say."""
        return "drops" in self.entry or self.is_weighed

    @property
    def is_weighed(self) -> bool:
        """True where its amount is typed in grams."""
        return "mass" in self.entry

    def release(self) -> None:
        """Remove a fixed amount, so that the ratio shares the oils out."""
        if self.is_weighed:
            self.entry["parts"] = self.entry.get("parts", 1)
            self.entry.pop("mass")
            self.parts.value = self._amount()
        self.entry.pop("drops", None)
        self._show_state()

    def _show_state(self) -> None:
        drops, is_counted = self.entry.get("drops"), "drops" in self.entry
        # a count that the check will refuse stays as it was written
        count = counted(drops, "drop") if isinstance(drops, int) else quoted(drops)
        words = escape(f"{count}, fixed") if is_counted else ""
        self.fixed.value = f'<span class="bk-faint">{words}</span>'
        self.fixed.layout.display = None if is_counted else "none"
        self.parts.disabled = is_counted
        self._name_controls()

    def document(self) -> dict[str, Any]:
        """The entry as the row shows it, good or bad."""
        is_share = self.kind == "carrier" and "%" in self.parts.value
        key = "mass" if self.is_weighed else "share" if is_share else "parts"
        others = {name: value for name, value in self.entry.items() if name not in _AMOUNTS}
        typed = self.parts.value
        amount = with_unit(typed, "g") if self.is_weighed else number_of(typed)
        return {**others, "id": self.material.value, key: amount}


class IngredientRows:
    """A list of rows with a chooser below that adds one."""

    def __init__(
        self, kind: str, options: list[tuple[str, str]], changed: Callable[..., None]
    ) -> None:
        self.kind = kind
        self.options = options
        self.changed = changed
        self.look = _shared_look()
        self.rows: list[IngredientRow] = []
        self.first_amount: dict[str, Any] = {"parts": 1}
        self.rows_view = widgets.VBox()
        self.chooser = choice("", [("+ add", ""), *options], "72px", tooltip=f"add a {kind}")
        self.chooser.observe(self._choose, "value")

    def show(self, entries: list[Mapping[str, Any]]) -> None:
        """Show these entries; a row that is there already stays, with what is typed in it."""
        there = {row.material.value: row for row in self.rows}
        self.rows = []
        for entry in entries:
            row = there.pop(entry["id"], None)
            if row is None:
                self._append(entry)
            else:
                row.show(entry)
                self.rows.append(row)
        self._draw()

    def offer(self, options: list[tuple[str, str]]) -> None:
        """Offer these materials in every row, and to add."""
        self.options = options
        set_options(self.chooser, [self.chooser.options[0], *options])
        for row in self.rows:
            row.offer(options)

    def documents(self) -> list[dict[str, Any]]:
        """The entries as the rows show them, good or bad."""
        return [row.document() for row in self.rows]

    def _append(self, entry: Mapping[str, Any]) -> None:
        row = IngredientRow(self.kind, self.options, entry, self.look)
        row.material.observe(self.changed, "value")
        row.parts.observe(self.changed, "value")
        row.remove.on_click(lambda _: self._remove(row))
        self.rows.append(row)

    def _choose(self, change: Any) -> None:
        if change["new"]:
            self._append({"id": change["new"], **self.first_amount})
            self.chooser.value = ""
            self._draw()
            self.changed()

    def _remove(self, row: IngredientRow) -> None:
        self.rows.remove(row)
        self._draw()
        self.changed()

    def _draw(self) -> None:
        views = tuple(row.view for row in self.rows)
        if views != self.rows_view.children:
            self.rows_view.children = views


def _with(options: list[tuple[str, str]], chosen: str) -> list[tuple[str, str]]:
    """The options with the one chosen: an earlier version, or on the shelf no longer."""
    if chosen in {value for _, value in options}:
        return options
    name = str(chosen)
    with contextlib.suppress(UnknownMaterial):
        name = marked_name(chosen)
    return [*options, (name, chosen)]


def oil_options(note: str) -> list[tuple[str, str]]:
    """Every oil, those usual for the note first; the others named with their usual note."""
    known = [catalogue.oil(oil_id) for oil_id in catalogue.oil_ids()]
    by_name = sorted(known, key=lambda oil: (oil.note != note, oil.name))
    return [
        (marked_name(oil.id) + ("" if oil.note == note else f"{_USUALLY}{oil.note}"), oil.id)
        for oil in by_name
    ]
