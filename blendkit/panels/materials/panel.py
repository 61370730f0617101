"""Panel 02: the shelf — browse, search, volatility, sources, own lots, and what is left."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets

from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import counted
from blendkit.keeping.own_materials import keep_lot
from blendkit.materials import catalogue
from blendkit.materials.analyses import Analysis, read_analysis
from blendkit.materials.search import ANY, families, find
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.links import notebook_links
from blendkit.panels.kit.parts import (
    Message,
    Panel,
    button,
    choice,
    columns,
    heading,
    panel_frame,
    results,
    set_options,
    text_box,
    with_unit,
)
from blendkit.panels.materials.stock import ShelfStock
from blendkit.showing.shelf import fragments
from blendkit.showing.shelf.rows import volatility_rows
from blendkit.skin.check import marked_name

SHOWN_AT_ONCE = 24


class ShelfPanel(Panel):
    """Search, sources, own lots and stock."""

    def __init__(self) -> None:
        self.message = Message()
        self.search = text_box("Search", placeholder="name or odour word")
        self.search.continuous_update = True
        self.note = choice("Note", [ANY, *NOTES])
        self.family = choice("Family", [ANY, *families()])
        self.count = widgets.HTML()
        self.chart = ChartView(
            "shelf",
            "volatility_chart",
            "Each oil as the spread of its constituents over vapour pressure",
        )
        self.oils = widgets.HTML()
        self.chosen = choice("Sources of", [])
        self.sources = widgets.HTML()
        self.own = OwnLots(self.message, self.update)
        self.stock = ShelfStock(self.message)
        look = self.message.guard(self.update)
        for control in (self.search, self.note, self.family):
            control.observe(look, "value")
        self.chosen.observe(self.message.guard(self.show_sources), "value")
        own = widgets.Accordion([self.own.view])
        own.set_title(0, "Your own lots")
        controls = widgets.VBox([self.search, self.note, self.family, self.count, own])
        tables = results(
            self.oils,
            heading("Where the figures come from"),
            self.chosen,
            self.sources,
        )
        both, stock = columns(controls, results(self.chart)), columns(*self.stock.views)
        links = notebook_links("02_the_shelf")
        self.view = panel_frame(links, self.message.view, both, tables, stock)
        self.update()
        self.message.guard(self.stock.update)()

    def update(self) -> None:
        """Show the oils that match the controls."""
        found = find(self.search.value, self.note.value, self.family.value)
        shown = found[:SHOWN_AT_ONCE]
        words = counted(len(found), "oil")
        rest = f", the first {len(shown)} shown; narrow the search for the others"
        self.count.value = f"<p>{words}{rest if len(found) > len(shown) else ''}.</p>"
        self.chart.rows = volatility_rows(shown)
        self.oils.value = fragments.oil_list(shown)
        set_options(self.chosen, [(marked_name(oil), oil.id) for oil in found])
        self.show_sources()

    def show_sources(self) -> None:
        """List where every figure of the chosen oil comes from."""
        chosen = self.chosen.value
        self.sources.value = fragments.provenance_list(chosen) if chosen else ""


class OwnLots:
    """Entering an analysed lot."""

    def __init__(self, message: Message, changed: Any) -> None:
        self.message = message
        self.changed = changed
        shipped = map(catalogue.oil, catalogue.shipped_oils().index)
        self.oil = choice("Oil", sorted((marked_name(oil), oil.id) for oil in shipped))
        self.lot = text_box("Supplier's lot")
        self.text = widgets.Textarea(
            placeholder="Paste the analysis here:\nLinalool 35,2 %\nCamphor tr",
            tooltip="analysis as text",
            layout=widgets.Layout(width="380px", height="150px"),
        )
        self.limit = text_box("Reporting limit", "", placeholder="0.05 %, if it is stated")
        self.understood = widgets.HTML()
        self.read_button = button("Read the analysis", message.guard(self.read))
        self.keep_button = button("Keep this lot", message.guard(self.keep))
        self.view = widgets.VBox(
            [
                self.oil,
                self.lot,
                self.text,
                self.limit,
                widgets.HBox([self.read_button, self.keep_button]),
                self.understood,
            ]
        )

    def read(self) -> None:
        """Read the pasted analysis and show the result."""
        analysis = self._analysis()
        self.understood.value = fragments.analysis_list(analysis)
        self.message.say(str(analysis))

    def keep(self) -> None:
        """Keep the analysis as a lot of the chosen oil."""
        self.read()
        oil = keep_lot(self.oil.value, self.lot.value, self._analysis())
        self.changed()
        self.message.say(f'Kept as "{oil.id}"; choose it in any blend like another oil.')

    def _analysis(self) -> Analysis:
        limit = with_unit(self.limit.value, "%") or None
        return read_analysis(self.text.value, reporting_limit=limit)
