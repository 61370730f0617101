"""The controls that write a blend document: bottle, strength, notes, oils, carriers."""

from collections.abc import Callable, Mapping
from typing import Any

import ipywidgets as widgets

from blendkit.blend.document import SCALE_STEP, STRENGTH_BASES
from blendkit.blend.market import Market
from blendkit.blend.ways import rewrite, with_masses
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import counted
from blendkit.materials import catalogue
from blendkit.panels.bottle.ingredient_rows import IngredientRow, IngredientRows, oil_options
from blendkit.panels.kit import parts
from blendkit.panels.kit.market_choice import MarketChoice
from blendkit.panels.kit.message import raise_flag

BOTTLES = ("10 mL", "30 mL")
DROPS, PERCENT, GRAMS = "drops", "% by mass", "grams"
FIRST_MASS = "0.1 g"  # of an oil that is added to a blend in grams
_OTHER = "other"


class _Note:
    """One note: its parts in the ratio, and its oils."""

    def __init__(self, note: str, changed: Callable[..., None]) -> None:
        self.note = note
        self.parts = parts.SlidingNumber(f"{note.capitalize()} parts", "1", 0.5, 6, 0.5)
        self.parts.on_change(changed)
        self.oils = IngredientRows(f"{note} note", oil_options(note), changed)
        head = parts.row(self.parts.view, self.oils.chooser)
        self.view = parts.column(head, self.oils.rows_view).add_class(f"bk-{note}")

    def show(self, document: Mapping[str, Any]) -> None:
        share = document["note_parts"].get(self.note, 1)
        if isinstance(share, int | float):
            self.parts.slider.max = max(6, share)
        self.parts.show_number(share)
        notes = [
            each.get("note") or catalogue.oil(each["id"]).note for each in document["oils"]
        ]
        pairs = zip(notes, document["oils"], strict=True)
        self.oils.show([each for note, each in pairs if note == self.note])


class BlendEditor:
    """Reads and writes a blend document through controls.

    Attributes
    ----------
    view : ipywidgets.Widget
        Bottle, strength, ratio, oils and carriers.
    name : ipywidgets.Text
        Goes into the header of the panel.
    details : ipywidgets.Widget
        Basis of the strength, drop size, headspace, botanicals.
    drop_sizes : dict of str to float
        Drops per millilitre of single oils, as calibrated. [1/mL]
    market : MarketChoice
        Written into the document; panels with a skin check show it.
    accepted : dict of str to str
        Skin limits that the maker accepts where they are not settled, with the reason.
    """

    def __init__(self, document: Mapping[str, Any], changed: Callable[..., None]) -> None:
        self._changed = changed
        self._is_quiet = False
        self.drop_sizes: dict[str, float] = {}
        self.accepted: dict[str, str] = {}
        self.name = widgets.Text(tooltip="Name", continuous_update=False).add_class("bk-name")
        self.bottle = parts.unit_box("Bottle", "mL", width="152px")
        self.usual = widgets.ToggleButtons(
            options=[*BOTTLES, _OTHER], tooltip="usual bottles", style={"button_width": "58px"}
        )
        self.strength = parts.SlidingNumber("Strength", "20 %", 1, 40, 1, "%")
        self.basis = parts.choice("Strength by", STRENGTH_BASES, "230px")
        self.way = parts.choice("Oils in", (DROPS, PERCENT, GRAMS), "230px")
        self.step = parts.unit_box("Scale step", "g", SCALE_STEP, width="230px")
        self.make = parts.unit_box("Make", "g", width="230px", placeholder="a full bottle")
        self.drops_per_ml = parts.SlidingNumber("Drops in 1 mL", "20", 15, 45, 1)
        self.headspace = parts.unit_box("Left empty", "mL", "0 mL")
        self.botanicals = parts.unit_box("Dried botanicals", "mL", "0 mL")
        self.notes = {note: _Note(note, self._report) for note in NOTES}
        self.carrier_heading = parts.heading("")
        self.carriers = IngredientRows("carrier", parts.carrier_options(), self._report)
        self.fixed = widgets.HTML()
        again = parts.button("Share by the ratio", self.share_out_again)
        self.fixed_view = widgets.VBox([self.fixed, again])
        self.fixed_view.layout.width = "400px"
        self.market = MarketChoice(self._report)
        self.view = self._lay_out()
        details = (self.basis, self.drops_per_ml.view, self.headspace, self.botanicals)
        self.details = parts.column(*details)
        self.put(document)
        self.way.observe(self._change_way, "value")
        boxes = (self.name, self.bottle, self.basis, self.headspace, self.botanicals)
        parts.observe(self._report, *boxes, self.step, self.make)
        for number in (self.strength, self.drops_per_ml):
            number.on_change(self._report)
        self.usual.observe(self._take_usual, "value")
        self.bottle.observe(self._follow_bottle, "value")

    @property
    def document(self) -> dict[str, Any]:
        """The blend document of the controls, good or bad."""
        notes = {name: note for name, note in self.notes.items() if note.oils.rows}
        oils = [
            {**entry, "note": name}
            for name, note in notes.items()
            for entry in note.oils.documents()
        ]
        default, sizes = parts.number_of(self.drops_per_ml.value), self.drop_sizes
        own = {oil["id"]: sizes[oil["id"]] for oil in oils if oil["id"] in sizes}
        ratio = {name: parts.number_of(note.parts.value) for name, note in notes.items()}
        document = {
            "name": self.name.value,
            "bottle": self.bottle.quantity,
            "strength": self.strength.value,
            "strength_basis": self.basis.value,
            "drops_per_ml": {"default": default, **own} if own else default,
            "note_parts": ratio,
            "oils": oils,
            "carriers": self.carriers.documents(),
        }
        if self.is_weighed:
            document |= {"by": "mass", "step": self.step.quantity}
            if self.make.quantity:
                document["make"] = self.make.quantity
        for key, box in (("headspace", self.headspace), ("botanicals", self.botanicals)):
            if box.quantity != "0 mL":
                document[key] = box.quantity
        if self._names_market or self.market.document != Market().to_dict():
            document["market"] = self.market.document
        if self.accepted:
            document["accepted"] = [
                {"limit": limit, "reason": reason} for limit, reason in self.accepted.items()
            ]
        return document

    @property
    def is_weighed(self) -> bool:
        """True for a blend by mass."""
        return bool(self.way.value != DROPS)

    def show(self, document: Mapping[str, Any]) -> None:
        """Set every control from a document; reports one change at the end."""
        self.put(document)
        self._report()

    def put(self, document: Mapping[str, Any]) -> None:
        """Set every control from a document and report nothing; a box that says it stays."""
        document = with_masses(document)
        with raise_flag(self, "_is_quiet"):
            self._put_way(document)
            self.name.value = document.get("name", "")
            self.bottle.value = document["bottle"]
            self.strength.value = document["strength"]
            self.basis.value = document.get("strength_basis", document.get("by", "drops"))
            self.headspace.value = document.get("headspace", "0 mL")
            self.botanicals.value = document.get("botanicals", "0 mL")
            self.step.value = str(document.get("step", SCALE_STEP))
            self.make.value = str(document.get("make", ""))
            sizes = document.get("drops_per_ml", 20)
            sizes = dict(sizes) if isinstance(sizes, Mapping) else {"default": sizes}
            self.drops_per_ml.show_number(sizes.pop("default", 20))
            # a kept blend comes back with the droppers it was counted with
            self.drop_sizes = sizes
            for note in self.notes.values():
                note.show(document)
            self.carriers.show(document["carriers"])
            self._names_market = "market" in document
            self.market.show(Market(**document.get("market", {})))
            accepted = document.get("accepted", ())
            self.accepted = {entry["limit"]: entry["reason"] for entry in accepted}
            self._follow_bottle()
            self._show_fixed()

    def _put_way(self, document: Mapping[str, Any]) -> None:
        in_grams = any("mass" in entry for entry in document["oils"])
        is_weighed = document.get("by") == "mass"
        self.way.value = DROPS if not is_weighed else GRAMS if in_grams else PERCENT
        self._show_way()

    def _show_way(self) -> None:
        by = "mass" if self.is_weighed else "volume"
        self.carrier_heading.value = parts.heading(f"Carriers, parts by {by} or %").value
        for box in (self.step, self.make):
            box.layout.display = None if self.is_weighed else "none"
        for note in self.notes.values():
            fresh = {"mass": FIRST_MASS} if self.way.value == GRAMS else {"parts": 1}
            note.oils.first_amount = fresh

    def _change_way(self, change: Any) -> None:
        """Write the same bottle the other way; what cannot be read keeps its ratio."""
        if self._is_quiet:
            return
        with raise_flag(self, "_is_quiet"):
            self.way.value = change["old"]
            before = self.document
        way = {DROPS: "drops", PERCENT: "mass", GRAMS: "grams"}[change["new"]]
        self.show(rewrite(before, way, self.step.quantity))

    def use_drop_size(self, oil_id: str, drops_per_ml: float) -> None:
        """Count one oil's drops at a size of its own from now on, or "default" all others."""
        if oil_id == "default":
            self.drops_per_ml.value = f"{drops_per_ml:g}"
        else:
            self.drop_sizes[oil_id] = drops_per_ml
            self._report()

    def list_materials(self) -> None:
        """Offer what is on the shelf now, own lots and own materials among it."""
        with raise_flag(self, "_is_quiet"):
            for name, note in self.notes.items():
                note.oils.offer(oil_options(name))
            self.carriers.offer(parts.carrier_options())

    def share_out_again(self, *_: Any) -> None:
        """Release every fixed amount, so that the ratio shares the oils out."""
        with raise_flag(self, "_is_quiet"):
            self.way.value = PERCENT if self.is_weighed else DROPS
            self._show_way()
            for each in self._oil_rows():
                each.release()
        self._report()

    def accept(self, limit: str, reason: str) -> None:
        """Accept a skin limit that is not settled; without a reason, withdraw that."""
        self.accepted.pop(limit, None)
        if reason:
            self.accepted[limit] = reason
        self._report()

    def _show_fixed(self) -> None:
        """Say which counts are fixed, and grey what changes nothing because of them."""
        rows = self._oil_rows()
        fixed = sum(row.is_fixed and not row.is_weighed for row in rows)
        which = "every oil" if fixed == len(rows) else f"{fixed} of {counted(len(rows), 'oil')}"
        self.fixed.value = (
            f'<p class="bk-faint">The amount of {which} is fixed: ratio, parts and strength do '
            "not change it. Kept versions stay as they are.</p>"
        )
        self.fixed_view.layout.display = None if fixed else "none"
        oils = {name: note.oils.rows for name, note in self.notes.items()}
        is_free = {name for name in oils if any(not row.is_fixed for row in oils[name])}
        self.strength.disable(disabled=bool(rows) and not is_free)
        for name, note in self.notes.items():
            note.parts.disable(disabled=name not in is_free or len(is_free) == 1)

    def _oil_rows(self) -> list[IngredientRow]:
        return [row for note in self.notes.values() for row in note.oils.rows]

    def _report(self, *_: Any) -> None:
        if not self._is_quiet:
            self._show_fixed()
            self._changed()

    def _take_usual(self, change: Any) -> None:
        if change["new"] != _OTHER:
            self.bottle.value = change["new"]

    def _follow_bottle(self, *_: Any) -> None:
        known = self.bottle.quantity in BOTTLES
        self.usual.value = self.bottle.quantity if known else _OTHER

    def _lay_out(self) -> widgets.Widget:
        notes = [self.notes[note].view for note in NOTES]
        carriers = parts.row(self.carrier_heading, self.carriers.chooser)
        bottle = parts.row(self.bottle, self.usual)
        first = (bottle, self.way, self.step, self.make, self.strength.view, self.fixed_view)
        view = parts.column(*first, *notes, carriers, self.carriers.rows_view)
        return view.add_class("bk-editor")
