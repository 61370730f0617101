"""Panel 02: the shelf — browse, search, volatility, sources, own lots, and what is left."""

from datetime import date
from typing import Any

import ipywidgets as widgets

from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import counted
from blendkit.journal.records import LotRow, OwnMaterialRow
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.own_materials import keep_lot
from blendkit.keeping.stock_entries import SHELF, current_stock
from blendkit.keeping.storing import freshness, keep_peroxide_test, keep_storing
from blendkit.materials import catalogue
from blendkit.materials.amounts import material
from blendkit.materials.analyses import Analysis
from blendkit.materials.catalogue import OWN_MARK
from blendkit.materials.constituents import constituent
from blendkit.materials.provenance import provenance
from blendkit.materials.search import ANY, families, find
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.links import notebook_links
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.kit.stock_form import StockForm
from blendkit.panels.kit.watch import Watch
from blendkit.panels.materials.makings import Ladder, Makings
from blendkit.panels.materials.own_form import AnalysisBox, OwnMaterials
from blendkit.showing.kit.rendering import render
from blendkit.showing.shelf import fragments
from blendkit.showing.shelf.rows import volatility_rows
from blendkit.skin.check import options
from blendkit.skin.freshness import RICH, Storing, judge_peroxides, places

SHOWN_AT_ONCE = 24


class ShelfPanel(parts.Panel):
    """Search, sources, own lots and stock."""

    def __init__(self) -> None:
        self.message = parts.Message()
        guard = self.message.guard
        self.search = parts.text_box("Search", placeholder="name or odour word")
        self.search.continuous_update = True
        self.note = parts.choice("Note", [ANY, *NOTES])
        self.family = parts.choice("Family", [ANY, *families()])
        self.chosen = parts.choice("Sources of", [])
        self.count, self.oils, self.sources, self.stock_list = (
            widgets.HTML() for _ in range(4)
        )
        self.chart = ChartView("shelf", "volatility_chart", _CHART)
        self.own = OwnLots(self.message, self.update)
        self.materials = OwnMaterials(self.message, self.take_in)
        self.makings = Makings(self.message, self.show_stock)
        self.ladder = Ladder(self.message, self.take_in)
        self.stock = StockForm(self.message, self.show_stock)
        self.storing = StoringForm(self.stock)
        parts.observe(guard(self.update), self.search, self.note, self.family)
        self.chosen.observe(guard(self.show_sources), "value")
        self.watch = Watch()
        self.watch.follow(guard(self.refresh), LotRow, OwnMaterialRow)
        self.watch.follow(guard(self.show_stock), *SHELF)
        self.view = self._lay_out()
        parts.set_options(self.stock.material, _materials())
        self.update()
        guard(self.show_stock)()

    def _lay_out(self) -> widgets.VBox:
        pages = {
            "How it is stored": self.storing.view,
            "Your own materials": self.materials.view,
            "Make a mixture to keep": self.makings.view,
            "Ladder of two materials": self.ladder.view,
            "Your own lots": self.own.view,
        }
        own = widgets.Accordion(list(pages.values()), titles=list(pages))
        left = parts.column(self.stock.view, own)
        left.layout.max_width = self.stock.view.layout.max_width  # whatever is opened in it
        labels = PrintButton("Print labels for open bottles", self.label_page)
        stock = (parts.heading("Stock"), self.stock_list, parts.hint(_STOCK), labels)
        controls = widgets.VBox([self.search, self.note, self.family, self.count])
        origins = parts.heading("Where the figures come from")
        return parts.panel_frame(
            notebook_links("02_the_shelf"),
            self.message.view,
            parts.columns(left, parts.results(*stock)),
            parts.columns(controls, parts.results(self.chart)),
            parts.results(self.oils, origins, self.chosen, self.sources),
            self.watch,
        )

    def refresh(self) -> None:
        """Offer and show what is on record now."""
        parts.set_options(self.stock.material, _materials())
        self.materials.refresh()
        self.ladder.refresh()
        self.update()

    def take_in(self, material_id: str) -> None:
        """Show a material that was kept just now, and have its purchase ready to enter."""
        self.refresh()
        self.makings.refresh()
        self.stock.material.value = material_id
        if material_id in dict(map(reversed, self.makings.mixture.options)):
            self.makings.mixture.value = material_id

    def show_stock(self) -> None:
        """Show what is left, with what the journal's batches used taken off."""
        journal = the_journal()
        self.makings.refresh()
        self.stock_list.value = fragments.stock_list(current_stock(journal), freshness(journal))
        self.stock.refresh(journal)

    def label_page(self) -> str:
        """Labels of all open bottles, as a page to print and cut."""
        return render("bottle_labels", fresh=freshness(the_journal()))

    def update(self) -> None:
        """Show the oils that match the controls."""
        found = find(self.search.value, self.note.value, self.family.value)
        shown = found[:SHOWN_AT_ONCE]
        rest = f", the first {len(shown)} shown; narrow the search for the others"
        rest = rest if len(found) > len(shown) else ""
        self.count.value = f"<p>{counted(len(found), 'oil')}{rest}.</p>"
        self.chart.rows = volatility_rows(shown)
        self.oils.value = fragments.oil_list(shown)
        parts.set_options(self.chosen, options(oil.id for oil in found))
        self.show_sources()

    def show_sources(self) -> None:
        """List where every figure of the chosen oil comes from."""
        rows = provenance(self.chosen.value).to_dict("records") if self.chosen.value else []
        self.sources.value = render("provenance", rows=rows) if rows else ""


class OwnLots:
    """Entering an analysed lot."""

    def __init__(self, message: parts.Message, changed: Any) -> None:
        self.message = message
        self.changed = changed
        self.oil = parts.choice("Oil", sorted(options(catalogue.shipped_oils().index)))
        self.lot = parts.text_box("Supplier's lot")
        self.analysis = AnalysisBox()
        self.partial = parts.tick("It names some constituents only: keep the rest as on record")
        self.understood = widgets.HTML()
        self.read_button = parts.button("Read the analysis", message.guard(self.read))
        self.keep_button = parts.button("Keep this lot", message.guard(self.keep))
        buttons = parts.row(self.read_button, self.keep_button)
        self.view = parts.column(
            *(self.oil, self.lot, self.analysis.view, self.partial, buttons, self.understood)
        )

    def read(self) -> Analysis:
        """Read the pasted analysis and show the result."""
        analysis = self.analysis.read(whole=not self.partial.value)
        self.understood.value = render("analysis", analysis=analysis, constituent=constituent)
        self.message.say(str(analysis))
        return analysis

    def keep(self) -> None:
        """Keep the analysis as a lot of the chosen oil."""
        analysis = self.read()
        oil = keep_lot(self.oil.value, self.lot.value, analysis)
        self.changed()
        kept = f'Kept as "{oil.id}"; choose it in any blend like another oil.'
        self.message.say(kept if analysis.is_whole else f"{kept} {analysis}")


class StoringForm:
    """Entering how the chosen material is stored, and a peroxide value of it.

    Parameters
    ----------
    stock : StockForm
        Where the material is chosen.
    """

    def __init__(self, stock: StockForm) -> None:
        self.stock, guard = stock, stock.message.guard
        self.place = parts.choice("Stored in", list(places()), _WIDTH, value=places()[1])
        self.opened = parts.text_box("Open since", "", _WIDTH, placeholder="as on record")
        self.daylight = parts.tick("In daylight")
        self.antioxidant = parts.tick("Antioxidant added")
        self.peroxides = parts.unit_box("Peroxides", "mmol/L", "", _WIDTH)
        self.tested = parts.text_box("Tested on", f"{date.today()}", _WIDTH)
        self.lot = parts.text_box("Lot", "", _WIDTH)
        keep = parts.button("Keep how it is stored", guard(self.keep))
        test = parts.button("Add this test", guard(self.test))
        self.view = parts.column(
            parts.hint(_WHOSE), self.place, self.opened,
            parts.row(self.daylight, self.antioxidant), keep, parts.heading("Peroxide test"),
            parts.hint(_RICH), self.peroxides, self.tested, self.lot, test,
        )  # fmt: skip

    def keep(self) -> None:
        """Keep how the chosen material is stored."""
        storing = Storing(self.place.value, self.daylight.value, self.antioxidant.value)
        name, opened = self.stock.material.value, self.opened.value.strip()
        keep_storing(the_journal(), name, storing, opened)
        self.opened.value = ""
        self.stock.say(f"Kept: {material(name).name}, {storing.place}.")

    def test(self) -> None:
        """Enter a peroxide value of the chosen material."""
        typed = (self.peroxides.quantity, self.tested.value.strip(), self.lot.value)
        name = self.stock.material.value
        row = keep_peroxide_test(the_journal(), name, *typed)
        self.peroxides.value = ""
        found = judge_peroxides(name, row.document["peroxides_mmol_per_l"])
        self.stock.say(f"{material(name).name}. {found.words}.")


def _materials() -> list[tuple[str, str]]:
    """Carriers first: they are few, and the largest bottles."""
    oils = (name for name in catalogue.oil_ids() if OWN_MARK not in name)
    return [*sorted(options(catalogue.carrier_ids())), *sorted(options(oils))]


_CHART = "Each oil as the spread of its constituents over vapour pressure"
_STOCK = (
    "What your batches used is taken off. Where list and bottle disagree, count: the newest "
    "count wins. Own lots count with their oil."
)
_WIDTH = "300px"
_WHOSE = "Of the material chosen above."
_RICH = (
    "A value of the raw oil. Limits of constituents count where they are "
    f"{RICH * 100:g} % of it or more: no standard gives that figure."
)
