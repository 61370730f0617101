"""Panel of sniff duels: two miniatures to make next, which is better, and the favourite."""

from typing import Any

import ipywidgets as widgets
import numpy as np

from blendkit.batch.stock import OnShelf
from blendkit.blend.apportionment import whole_drops
from blendkit.blend.blend import BlendLike
from blendkit.choosing import duels
from blendkit.choosing.answers import SAID
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.foundation.units import counted
from blendkit.keeping.answers import DUEL, Kept
from blendkit.keeping.open_store import read_or
from blendkit.keeping.stock_entries import current_stock
from blendkit.materials import catalogue
from blendkit.materials.amounts import shelf_id
from blendkit.panels.choosing.sniffing import SniffingPanel, Taps
from blendkit.panels.kit import parts
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.kit.section import Section
from blendkit.showing.choosing.sniffing import chance_lines, drops_compared, duel_page, unit_of
from blendkit.skin import check
from blendkit.skin.counted_bottle import CountedBottle


class DuelsPanel(SniffingPanel):
    """Miniatures of the blend in hand, two at a time, until one is liked best."""

    def __init__(self, blend: BlendLike | None = None) -> None:
        super().__init__("Which bottle next?", blend)
        self._surprises, self._sheet = False, ""
        self._made: list[duels.Miniature] = []
        self.chances, self.recipes = widgets.HTML(), widgets.HTML()
        self.words = parts.Findings("")
        self.total = parts.text_box("Count in each", "12", "210px")
        self.total.observe(self.refresh, "value")
        self.taps = Taps(DUEL, self.message, self.tapped)
        tray = PrintButton("Print tray and answer sheet", lambda: self._sheet)
        surprise = parts.button("Surprise me", self.message.guard(self.surprise))
        asked = parts.results(self.recipes, self.taps.view, parts.row(surprise, tray))
        found = parts.columns(asked, parts.results(self.chances, self.words.view))
        self.section = Section(found, self.offer.view)
        self.lay_out_short(parts.row(self.taps.nose, self.total), self.section.view)

    def answer(self) -> None:
        """Show the favourite so far, and the next two miniatures."""
        oils = self.blend.oil_drops.keys()
        kept = [one for one in self.taps.kept() if one.read.first.drops.keys() == oils]
        self._made = [each for one in kept for each in one.read[:2]]
        recipes, words = self._recipes()
        own = [one for one in kept if one.row.nose == self.taps.whose]
        fought = duels.duels_of(recipes, [one.read for one in own])
        if left_out := len(own) - len(fought):
            words.append(f"{counted(left_out, 'duel')} of bottles over a limit do not count.")
        others = [one.row.nose for one in kept if one.row.nose != self.taps.whose]
        theirs = [one.read for one in kept if others and one.row.nose == others[-1]]
        if fought and (other := duels.duels_of(recipes, theirs)):
            place, middle = duels.for_two(recipes, fought, other)
            words.append(
                f"For you and {others[-1]}: bottle {self._code(recipes, place)}. {middle}"
            )
        chances = duels.chances(recipes, fought)
        best = next(iter(chances))
        name = f"bottle {self._code(recipes, best)}"
        by_code = {self._code(recipes, place): chance for place, chance in chances.items()}
        self.chances.value = chance_lines(by_code) if fought else ""
        self.words.show([*duels.sentences(recipes, fought, name), *words])
        self._ask(recipes, fought, own)
        self._offer_bottle(recipes, best if fought else None, name)

    def _code(self, recipes: duels.Recipes, place: int) -> int:
        return duels.miniature_of(recipes, place, self._made).code

    def _recipes(self) -> tuple[duels.Recipes, list[str]]:
        """Recipes within limits and shelf, and what is not known of the shelf."""
        stock = read_or(current_stock, dict[str, OnShelf]())
        # where more was used than was ever entered, the record does not know what is left
        sound = {name: row for name, row in stock.items() if row.left_m3 >= 0}
        oils = {name: sound.get(shelf_id(name)) for name in self.blend.oil_drops}
        left_m3 = {name: row.left_m3 for name, row in oils.items() if row}
        total: Any = parts.number_of(self.total.value)
        made = [each.drops for each in self._made]
        recipes = duels.recipes_of(self.blend, total, made=made, shelf_m3=left_m3)
        unknown = ", ".join(catalogue.oil(name).name for name, row in oils.items() if not row)
        words = f"No stock on record of {unknown if left_m3 else 'these oils'}: taken as there."
        return recipes, [words] * bool(unknown)

    def _ask(self, recipes: duels.Recipes, fought: list[duels.Duel], own: list[Kept]) -> None:
        coming = duels.next_duel(recipes, fought)
        other = duels.surprise(recipes, fought) if self._surprises else coming.second
        if coming.first == other:
            needed = "two at least within the limits and the shelf"
            raise BadNumber([Problem("recipes", "one alone", needed)])
        first = duels.miniature_of(recipes, coming.first, self._made)
        pair = first, duels.miniature_of(recipes, other, [*self._made, first])
        there = {each.code for each in self._made}
        marks = [f"{each.code}{'' if each.code in there else ', to make'}" for each in pair]
        counts = [list(each.drops.values()) for each in pair]
        unit, oils = unit_of(self.blend), recipes.oils
        self.recipes.value = drops_compared(unit, oils, dict(zip(marks, counts, strict=True)))
        codes = [f"{each.code}" for each in pair]
        self._sheet = duel_page(unit, oils, dict(zip(codes, counts, strict=True)))
        one, two = ({"code": each.code, "drops": dict(each.drops)} for each in pair)
        labels = [*map("Bottle {}".format, codes), "cannot tell"]
        answers = [
            (label, {"first": one, "second": two, "better": said})
            for label, said in zip(labels, SAID, strict=True)
        ]
        self.taps.offer("Which do you like better?", answers, own)

    def _offer_bottle(self, recipes: duels.Recipes, best: int | None, name: str) -> None:
        """Offer the favourite as a whole bottle, where that is within the limits."""
        bottle = CountedBottle(self.blend, check.rules_in(self.blend), {})
        row = dict(zip(recipes.oils, recipes.drops[best or 0].tolist(), strict=True))
        parts_of = {oil: count for oil, count in row.items() if count}
        counts = whole_drops(parts_of, int(bottle.drops.sum()))
        drops = np.array([counts.get(oil, 0) for oil in bottle.ids])
        is_new = best is not None and (drops != bottle.drops).any() and not bottle.over(drops)
        self.offer.show(bottle.make(drops) if is_new else None, name)

    def tapped(self) -> None:
        """Go on to the next duel."""
        self._surprises = False
        self.update()

    def surprise(self) -> None:
        """Propose the miniature that is least like all that were smelt."""
        self._surprises = True
        self.update()
