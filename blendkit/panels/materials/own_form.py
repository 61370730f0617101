"""Form for materials of one's own: an oil, carrier or additive on no record, or a mixture."""

from collections.abc import Callable, Mapping
from typing import Any

import ipywidgets as widgets

from blendkit.foundation.errors import BadNumber, Problem
from blendkit.foundation.schema import NOTES
from blendkit.journal.records import OwnMaterialRow
from blendkit.keeping.open_store import read_or
from blendkit.keeping.own_materials import keep_material, keep_mixture
from blendkit.materials import catalogue
from blendkit.materials.amounts import material
from blendkit.materials.analyses import Analysis, read_analysis
from blendkit.materials.catalogue import ALLERGY_GROUPS, OWN, OWN_MARK, Carrier, Oil
from blendkit.materials.own_materials import BASES, MIXTURE, own_id
from blendkit.panels.bottle.ingredient_rows import IngredientRows
from blendkit.panels.kit import parts
from blendkit.showing.shelf import fragments
from blendkit.skin.check import options

_KINDS = (("mixture: dilution, accord, infusion", MIXTURE), ("oil or extract", "oil"),
          ("carrier", "carrier"), ("additive, such as vitamin E", "additive"))  # fmt: skip
_NEW = ("something new", "")
_OF_OIL = ("latin_name", "note", "odour_words", "analysis")
_OF_ALL = ("inci", "density_g_per_ml", "weighed", "like", "caution")
_NUMBERS = ("drops_per_ml", "keeps_months")
_SHOWN = {
    MIXTURE: ("parts", "by", "note", "drops_per_ml", "botanicals", "keeps_months"),
    "oil": (*_OF_OIL, *_OF_ALL),
    "carrier": (*_OF_ALL, "allergen_group", "keeps_months"),
    "additive": (*_OF_ALL, "allergen_group", "keeps_months"),
}


class AnalysisBox:
    """A place to paste an analysis into, with its reporting limit."""

    def __init__(self) -> None:
        self.text = widgets.Textarea(
            placeholder="Paste the analysis here:\nLinalool 35,2 %\nCamphor tr",
            tooltip="analysis as text",
            layout=widgets.Layout(width="380px", max_width="calc(100% - 4px)", height="150px"),
        )
        self.limit = parts.unit_box("Reporting limit", "%", placeholder="if stated")
        self.view = widgets.VBox([self.text, self.limit])

    def read(self, *, whole: bool = True) -> Analysis:
        """What was pasted; a refusal where it cannot be read."""
        limit = self.limit.quantity or None
        return read_analysis(self.text.value, reporting_limit=limit, whole=whole)


class OwnMaterials:
    """Entering a material of one's own, and what is known of it.

    Parameters
    ----------
    message : Message
    changed : callable
        Called with the material's id once it is kept.
    """

    def __init__(self, message: parts.Message, changed: Callable[[str], None]) -> None:
        self.message, self.changed = message, changed
        self.kept = parts.choice("Start from", [_NEW])
        self.kind = parts.choice("Kind", _KINDS)
        self.name = parts.text_box("Name", placeholder="Rose otto 3 % in jojoba")
        self.parts = IngredientRows("part", [], lambda *_: None)
        self.analysis = AnalysisBox()
        weighed = {"width": "200px", "placeholder": "if weighed"}
        self.mass = parts.unit_box("Weighed: mass", "g", **weighed)
        self.volume = parts.unit_box("its volume", "mL", **weighed)
        self.boxes = self._boxes()
        self.shown: dict[str, widgets.Widget] = {
            "by": self.boxes["by"],
            "parts": parts.column(
                parts.row(parts.heading("Parts"), self.parts.chooser), self.parts.rows_view
            ),
            **self.boxes,
            "weighed": parts.row(self.mass, self.volume),
            "analysis": self.analysis.view,
        }
        self.facts = widgets.HTML()
        self.view = parts.column(
            self.kept, self.kind, self.name, *self.shown.values(),
            parts.button("Keep this material", message.guard(self.keep)), self.facts,
        )  # fmt: skip
        self.kind.observe(message.guard(self._show_kind), "value")
        self.kept.observe(message.guard(self._start), "value")
        self.refresh()
        self._show_kind()

    def _boxes(self) -> dict[str, Any]:
        """Controls by the keys of a material's document, in the order they are shown."""
        return {
            "by": parts.choice("Parts by", BASES, "230px"),
            "latin_name": parts.text_box("Latin name"),
            "inci": parts.text_box("INCI name", placeholder="for the label"),
            "note": parts.choice("Note", []),
            "odour_words": parts.text_box("Smells of"),
            "density_g_per_ml": parts.unit_box("Density", "g/mL", placeholder="if known"),
            "like": parts.choice("Density like", [("nothing", "")]),
            "allergen_group": parts.choice(
                "Allergy group", [("not known", ""), *((one, one) for one in ALLERGY_GROUPS)]
            ),
            "drops_per_ml": parts.text_box("Drops in 1 mL", width="210px"),
            "botanicals": parts.text_box("Plants steeped", placeholder="strained out"),
            "keeps_months": parts.unit_box("Keeps, months", "", placeholder="if known"),
            "caution": parts.text_box("Supplier's caution"),
        }

    def refresh(self) -> None:
        """Offer what is on the shelf now."""
        mine = _documents()
        parts.set_options(self.kept, [_NEW, *((name, name) for name, _ in mine.values())])
        offered = sorted([*options(catalogue.carrier_ids()), *options(catalogue.oil_ids())])
        self.parts.offer(offered)
        parts.set_options(self.boxes["like"], [("nothing", ""), *offered])

    def _show_kind(self) -> None:
        shown, note = _SHOWN[self.kind.value], self.boxes["note"]
        notes = [(each, each) for each in NOTES]
        if self.kind.value == MIXTURE:
            more = ("poured like a carrier", "carrier")
            notes = [("as most of its oils", ""), *notes, more]
        parts.set_options(note, notes)
        for key, control in self.shown.items():
            control.layout.display = None if key in shown else "none"

    def _start(self) -> None:
        """Put a kept material into the boxes, for a new version of it."""
        if not self.kept.value:
            return
        name, document = _documents()[own_id(self.kept.value)]
        self.kind.value, self.name.value = document["kind"], name
        usual = {"by": "mass", "note": "" if document["kind"] == MIXTURE else "middle"}
        for key, box in self.boxes.items():
            box.value = _as_typed(document.get(key, usual.get(key, "")))
        self.mass.value = self.volume.value = self.analysis.text.value = ""
        amounts = document.get("parts", {})
        self.parts.show([{"id": key, "parts": value} for key, value in amounts.items()])
        self.show(catalogue.find_own(own_id(name)))

    def show(self, item: Oil | Carrier | None) -> None:
        """What is in a material, and what is not known of it."""
        self.facts.value = fragments.own_material(item) if item else ""

    def keep(self) -> None:
        """Keep what the boxes say, as a new material or a new version."""
        kind, typed = self.kind.value, self._typed()
        if kind == MIXTURE:
            made: Oil | Carrier = keep_mixture(self.name.value, self._amounts(), **typed)
        else:
            made = keep_material(self.name.value, kind, analysis=self._analysis(), **typed)
        self.show(made)
        self.changed(made.id)
        self.message.say(
            f"Kept {made.name}: it is in every list of oils or carriers. Enter its bottle and "
            "price as a purchase."
        )

    def _analysis(self) -> Any:
        """What was pasted; else, where a kept material is changed, the analysis it has."""
        if self.kind.value != "oil":
            return None
        if self.analysis.text.value.strip():
            return self.analysis.read()
        kept = self.kept.value and self.kept.value == self.name.value.strip()
        return _documents()[own_id(self.kept.value)][1].get("analysis") if kept else None

    def _typed(self) -> dict[str, Any]:
        """What the boxes of this kind hold, by the names that keeping takes."""
        shown = {key: self.boxes[key] for key in _SHOWN[self.kind.value] if key in self.boxes}
        found: dict[str, Any] = {
            key: text for key, box in shown.items() if (text := box.value.strip())
        }
        found |= {key: parts.number_of(found[key]) for key in _NUMBERS if key in found}
        if found.pop("density_g_per_ml", ""):
            found["density"] = self.boxes["density_g_per_ml"].quantity
        if self.kind.value != MIXTURE and (self.mass.value.strip() or self.volume.value):
            found["density"] = (self.mass.quantity, self.volume.quantity)
        return found

    def _amounts(self) -> dict[str, Any]:
        amounts: dict[str, Any] = {}
        for entry in self.parts.documents():
            if entry["id"] in amounts:
                name, fix = material(entry["id"]).name, "Add its amounts together."
                raise BadNumber([Problem("parts", name, "each material once", fix)])
            amounts[entry["id"]] = entry["parts"]
        return amounts


def _as_typed(value: object) -> str:
    text = f"{value:g}" if isinstance(value, float) else str(value)
    return text.partition(OWN_MARK)[0] if text.startswith(OWN) else text


def _documents() -> dict[str, tuple[str, Mapping[str, Any]]]:
    """Name and newest document of each own material, by its id."""
    rows = read_or(lambda journal: [*journal.all(OwnMaterialRow)], list[OwnMaterialRow]())
    return {own_id(row.name): (row.name, row.document) for row in rows}
