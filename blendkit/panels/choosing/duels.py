"""Panel of sniff duels: two miniatures to make next, which is better, and the favourite."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import ipywidgets as widgets
import numpy as np

from blendkit.batch.stock import OnShelf
from blendkit.blend.apportionment import whole_drops
from blendkit.blend.blend import BlendLike
from blendkit.choosing import duels
from blendkit.choosing.answers import SAID
from blendkit.choosing.duels import Duel, Miniature, Recipes
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.foundation.units import counted
from blendkit.journal.store import Journal
from blendkit.keeping.answers import DUEL, Kept, kept_answers
from blendkit.keeping.open_store import read_or
from blendkit.keeping.stock_entries import current_stock
from blendkit.materials import catalogue
from blendkit.materials.amounts import shelf_id
from blendkit.panels.choosing.sniffing_panel import SniffingPanel
from blendkit.panels.choosing.taps import Taps
from blendkit.panels.kit.parts import (
    Findings,
    button,
    columns,
    number_of,
    results,
    row,
    text_box,
)
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.kit.section import Section
from blendkit.showing.choosing.sniffing import chance_lines, drops_compared, duel_page
from blendkit.skin import check
from blendkit.skin.counted_bottle import CountedBottle


class DuelsPanel(SniffingPanel):
    """Miniatures of the blend in hand, two at a time, until one is liked best."""

    def __init__(self, blend: BlendLike | None = None) -> None:
        super().__init__("Which bottle next?", blend)
        self._surprises, self._sheet = False, ""
        self.chances, self.recipes, self.words = widgets.HTML(), widgets.HTML(), Findings("")
        self.total = text_box("Drops in each", "12", "210px")
        self.total.observe(self.refresh, "value")
        self.taps = Taps(DUEL, self.message, self.tapped)
        tray = PrintButton("Print tray and answer sheet", lambda: self._sheet)
        surprise = button("Surprise me", self.message.guard(self.surprise))
        asked = results(self.recipes, self.taps.view, row(surprise, tray))
        found = columns(asked, results(self.chances, self.words.view))
        self.section = Section(found, self.offer.view)
        self.lay_out_short(row(self.taps.nose, self.total), self.section.view)

    def answer(self) -> None:
        """Show the favourite so far, and the next two miniatures."""
        whose = self.taps.nose.value.strip()
        of_oils = [one for one in read_or(_kept_duels, list[Kept]()) if self._is_of_blend(one)]
        made = [each for one in of_oils for each in one.read[:2]]
        recipes, words = self._recipes(made)
        mine = [one for one in of_oils if one.row.nose == whose]
        fought = duels.duels_of(recipes, [one.read for one in mine])
        if left_out := len(mine) - len(fought):
            words.append(f"{counted(left_out, 'duel')} of bottles over a limit do not count.")
        codes = {
            place: duels.code_of(_drops(recipes, place), made)
            for place in duels.chances(recipes, fought)
        }
        best = next(iter(codes))
        self.chances.value = chance_lines(
            {codes[place]: chance for place, chance in duels.chances(recipes, fought).items()}
        )
        words = [*duels.sentences(recipes, fought, f"bottle {codes[best]}"), *words]
        self.words.show([*words, *self._for_two(recipes, of_oils, fought, made)])
        self._ask(recipes, fought, made, mine)
        self._offer_favourite(recipes, best, codes[best], is_known=bool(fought))

    def _is_of_blend(self, one: Kept) -> bool:
        return bool(one.read.first.drops.keys() == self.blend.oil_drops.keys())

    def _recipes(self, made: Sequence[Miniature]) -> tuple[Recipes, list[str]]:
        """Recipes within limits and shelf, and what is not known of the shelf."""
        stock = read_or(current_stock, dict[str, OnShelf]())
        oils = {name: stock.get(shelf_id(name)) for name in self.blend.oil_drops}
        shelf_m3 = {name: max(row.left_m3, 0.0) for name, row in oils.items() if row}
        unknown = [catalogue.oil(name).name for name, row in oils.items() if not row]
        total: Any = number_of(self.total.value)
        recipes = duels.recipes_of(
            self.blend, total, made=[each.drops for each in made], shelf_m3=shelf_m3
        )
        which = "any of them" if not shelf_m3 else ", ".join(unknown)
        return recipes, [f"No stock on record of {which}: taken as there."] * bool(unknown)

    def _for_two(
        self, recipes: Recipes, kept: Sequence[Kept], fought: Sequence[Duel],
        made: Sequence[Miniature],
    ) -> list[str]:  # fmt: skip
        """The middle way with the nose that answered last of the others, in words."""
        others = [one.row.nose for one in kept if one.row.nose != self.taps.nose.value.strip()]
        theirs = [one.read for one in kept if others and one.row.nose == others[-1]]
        if not fought or not (other := duels.duels_of(recipes, theirs)):
            return []
        place, words = duels.for_two(recipes, fought, other)
        code = duels.code_of(_drops(recipes, place), made)
        return [f"For you and {others[-1]}: bottle {code}. {words}"]

    def _ask(
        self, recipes: Recipes, fought: Sequence[Duel], made: Sequence[Miniature],
        undoes: Sequence[Kept],
    ) -> None:  # fmt: skip
        coming = duels.next_duel(recipes, fought)
        other = duels.surprise(recipes, fought) if self._surprises else coming.second
        if coming.first == other:
            needed = "two at least within the limits and the shelf"
            raise BadNumber([Problem("recipes", "one alone", needed)])
        pair, known = [], list(made)
        for place in (coming.first, other):
            drops = _drops(recipes, place)
            pair.append(Miniature(duels.code_of(drops, known), drops))
            known.append(pair[-1])
        there = {each.code for each in made}
        columns = {
            f"{each.code}{'' if each.code in there else ', to make'}": list(each.drops.values())
            for each in pair
        }
        self.recipes.value = drops_compared(recipes.oils, columns)
        self._sheet = duel_page(
            recipes.oils, {f"{each.code}": list(each.drops.values()) for each in pair}
        )
        first, second = ({"code": each.code, "drops": dict(each.drops)} for each in pair)
        labels = [*(f"Bottle {each.code}" for each in pair), "cannot tell"]
        answers = [
            (label, {"first": first, "second": second, "better": said})
            for label, said in zip(labels, SAID, strict=True)
        ]
        self.taps.offer("Which do you like better?", answers, undoes)

    def _offer_favourite(
        self, recipes: Recipes, best: int, code: int, *, is_known: bool
    ) -> None:
        """Offer the favourite as a whole bottle, where that is within the limits."""
        bottle = CountedBottle(self.blend, check.rules_in(self.blend), {})
        parts = {name: count for name, count in _drops(recipes, best).items() if count}
        counts = whole_drops(parts, int(bottle.drops.sum()))
        drops = np.array([counts.get(name, 0) for name in bottle.ids])
        is_new = is_known and (drops != bottle.drops).any() and not bottle.over(drops)
        self.offer.show(bottle.make(drops) if is_new else None, f"bottle {code}")

    def tapped(self) -> None:
        """Go on to the next duel."""
        self._surprises = False
        self.update()

    def surprise(self) -> None:
        """Propose the miniature that is least like all that were smelt."""
        self._surprises = True
        self.update()


def _kept_duels(journal: Journal) -> list[Kept]:
    return kept_answers(journal, DUEL)


def _drops(recipes: Recipes, place: int) -> dict[str, int]:
    return dict(zip(recipes.oils, recipes.drops[place].tolist(), strict=True))
