"""Panel of loudness: each oil matched with one of them on two blotters, then a ratio."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import ipywidgets as widgets

from blendkit.choosing.answers import SAID
from blendkit.choosing.loudness import ENOUGH_ANSWERS, Loudness, Nose, heard_ratio, match
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.foundation.units import show
from blendkit.keeping.answers import LOUDNESS, Kept
from blendkit.materials import catalogue
from blendkit.panels.bottle.hand import day_in_hand
from blendkit.panels.choosing.sniffing_panel import SniffingPanel
from blendkit.panels.choosing.taps import Taps
from blendkit.panels.kit.deferred import Deferred
from blendkit.panels.kit.parts import Findings, button, choice, columns, results, set_options
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.kit.section import Section
from blendkit.showing.choosing.sniffing import loudness_lines, loudness_page


class LoudnessPanel(SniffingPanel):
    """Oils of the blend in hand on a line of loudness, one comparison after another.

    Attributes
    ----------
    found : Loudness
        After the answers of the nose on the panel.
    """

    found: Loudness

    def __init__(self) -> None:
        super().__init__("How loud is each oil?")
        self._later, self._is_setting = Deferred(), False
        self.picture = widgets.HTML()
        self.words = Findings("")
        self.reference, self.oil = choice("Compare with", []), choice("Oil", [])
        self.taps = Taps(LOUDNESS, self.message, self.tapped)
        for each in (self.reference, self.oil):
            each.observe(self.message.guard(self.choose), "value")
        tray = PrintButton("Print tray and answer sheet", self.page)
        find = button("Find a ratio in which every oil is heard", self.message.guard(self.find))
        self.section = Section(self.picture)
        asked = widgets.VBox([self.taps.nose, self.reference, self.oil, tray])
        body = columns(results(self.section.view, self.taps.view), asked)
        self.lay_out_short(body, results(find, self.words.view, self.offer.view))

    def answer(self) -> None:
        """Show the line, and ask for the next comparison."""
        oils = sorted(self.blend.oil_drops)
        if len(oils) < 2:
            raise BadNumber([Problem("oils", "one alone", "two at least, to compare")])
        kept = [
            each for each in self.taps.kept() if {each.read.first, each.read.second} & set(oils)
        ]
        before, answers = match(oils), [each.read for each in kept]
        self.found = match(oils, answers)
        counts = _counts(kept)
        self._offer_oils(before, counts)
        self.picture.value = loudness_lines(self.found, before, self.reference.value, counts)
        self.offer.show(None)
        self.words.show([])
        self._ask(counts, kept)

    def choose(self) -> None:
        """Another oil or reference was chosen."""
        if not self._is_setting:
            self.update()

    def tapped(self) -> None:
        """Go on to the oil with fewest answers, once this one has enough."""
        counts = _counts(self.taps.kept())
        fewest = min((name for _, name in self.oil.options), key=lambda name: counts[name])
        if counts[self.oil.value] >= ENOUGH_ANSWERS > counts[fewest]:
            self.oil.value = fewest
        self.update()

    def _offer_oils(self, before: Loudness, counts: Counter[str]) -> None:
        """Every oil to choose from; the reference is by default one of middle loudness."""
        oils = sorted(before.oils, key=lambda name: before.drops_as_loud(name, before.oils[0]))
        named = {name: catalogue.oil(name).name for name in oils}
        self._is_setting, was, middle = True, self.reference.value, oils[len(oils) // 2]
        try:
            set_options(self.reference, [(named[name], name) for name in oils])
            if was not in oils:
                self.reference.value = max(
                    oils, key=lambda name: (counts[name], name == middle)
                )
            others = [name for name in oils if name != self.reference.value]
            done = {name: min(counts[name], ENOUGH_ANSWERS) for name in others}
            words = {
                name: f"{named[name]} · {done[name]} of {ENOUGH_ANSWERS}" for name in others
            }
            set_options(self.oil, [(words[name], name) for name in others])
        finally:
            self._is_setting = False

    def _ask(self, counts: Counter[str], kept: Sequence[Kept]) -> None:
        oil, reference = self.oil.value, self.reference.value
        steps = self.found.next_pair(oil, reference)
        pair = [
            (name, f"{show(step)} %")
            for name, step in zip((oil, reference), steps, strict=True)
        ]
        if counts[oil] % 2:  # either is named first as often
            pair.reverse()
        (first, first_at), (second, second_at) = pair
        document = {"first": first, "first_at": first_at,
                    "second": second, "second_at": second_at}  # fmt: skip
        names = [catalogue.oil(name).name.partition(" (")[0] for name, _ in pair]
        shares = [at.replace(" ", "\N{NO-BREAK SPACE}") for _, at in pair]
        labels = [*map("{}, {}".format, names, shares), "cannot tell"]
        answers = [
            (label, {**document, "stronger": said})
            for label, said in zip(labels, SAID, strict=True)
        ]
        self.taps.offer("Which blotter smells stronger?", answers, kept)

    def find(self) -> None:
        """Search for a starting ratio, once the page shows that it is searched for."""
        self.words.show(["Searching …"])
        self._later.ask(self.message.guard(self._find))

    def _find(self) -> None:
        conditions = day_in_hand(self.hand.present.document).conditions
        self.words.show([])
        found = heard_ratio(self.blend, Nose(self.found, conditions))
        self.words.show(found.sentences)
        self.offer.show(found.blend, "every oil heard")

    def page(self) -> str:
        """The tray with its answer sheet."""
        return loudness_page(sorted(self.blend.oil_drops), self.reference.value)


def _counts(kept: Sequence[Kept]) -> Counter[str]:
    return Counter(name for each in kept for name in (each.read.first, each.read.second))
