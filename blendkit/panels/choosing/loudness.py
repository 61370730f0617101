"""Panel of loudness: each oil matched with one of them on two blotters, then a ratio."""

from collections import Counter
from collections.abc import Sequence

import ipywidgets as widgets

from blendkit.choosing.answers import SAID
from blendkit.choosing.loudness import ENOUGH_ANSWERS, Loudness, Nose, heard_ratio, match
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.keeping.answers import LOUDNESS, Kept
from blendkit.materials import catalogue
from blendkit.panels.bottle.hand import day_in_hand
from blendkit.panels.choosing.sniffing import SniffingPanel, Taps
from blendkit.panels.kit import parts
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.kit.section import Section
from blendkit.showing.choosing.sniffing import loudness_lines, loudness_page


class LoudnessPanel(SniffingPanel):
    """Oils of the blend in hand on a line of loudness, one comparison after another.

    Attributes
    ----------
    found : Loudness
        After the answers of the nose on the panel.
    reference : str
        Oil that the others are compared with: the one with most answers, else a middling one.
    """

    found: Loudness

    def __init__(self) -> None:
        super().__init__("How loud is each oil?")
        self.reference = ""
        self.picture, self.words = widgets.HTML(), parts.Findings("")
        self.oil = parts.choice("Oil", [])
        self.oil.observe(self.refresh, "value")
        self.taps = Taps(LOUDNESS, self.message, self.tapped)
        tray = PrintButton("Print tray and answer sheet", self.page)
        find = self.message.guard(self.find, "Searching …")
        find_button = parts.button("Find a ratio in which every oil is heard", find)
        self.section = Section(self.picture)
        asked = widgets.VBox([self.taps.nose, self.oil, tray])
        body = parts.columns(parts.results(self.section.view, self.taps.view), asked)
        offered = parts.results(find_button, self.words.view, self.offer.view)
        self.lay_out_short(body, offered)

    def answer(self) -> None:
        """Show the line, and ask for the next comparison."""
        oils = sorted(self.blend.oil_drops)
        if len(oils) < 2:
            raise BadNumber([Problem("oils", "one alone", "two at least, to compare")])
        kept = [one for one in self.taps.own() if {one.read.first, one.read.second} & set(oils)]
        before, counts = match(oils), _counts(kept)
        self.found = match(oils, [each.read for each in kept])
        by_loudness = sorted(oils, key=lambda name: before.drops_as_loud(name, oils[0]))
        middle = by_loudness[len(oils) // 2]
        self.reference = max(oils, key=lambda name: (counts[name], name == middle))
        others = [name for name in by_loudness if name != self.reference]
        others.sort(key=lambda name: counts[name] >= ENOUGH_ANSWERS)  # what is open first
        parts.set_options(self.oil, [(catalogue.oil(name).name, name) for name in others])
        self.picture.value = loudness_lines(self.found, before, self.reference, counts)
        self.offer.show(None)
        self.words.show([])
        self._ask(counts, kept)

    def tapped(self) -> None:
        """Go on to the oil with fewest answers, once this one has enough."""
        counts = _counts(self.taps.own())
        fewest = min((name for _, name in self.oil.options), key=lambda name: counts[name])
        if counts[self.oil.value] >= ENOUGH_ANSWERS > counts[fewest]:
            self.oil.value = fewest
        self.update()

    def _ask(self, counts: Counter[str], kept: Sequence[Kept]) -> None:
        oil, reference = self.oil.value, self.reference
        at, reference_at = map("{:g} %".format, self.found.next_pair(oil, reference))
        pair = [(oil, at), (reference, reference_at)]
        if counts[oil] % 2:  # either is named first as often
            pair.reverse()
        document = {"first": pair[0][0], "first_at": pair[0][1],
                    "second": pair[1][0], "second_at": pair[1][1]}  # fmt: skip
        labels = [
            f"{catalogue.oil(name).name.partition(' (')[0]}, {at}".replace(" %", "\u00a0%")
            for name, at in pair
        ]
        answers = [
            (label, {**document, "stronger": said})
            for label, said in zip([*labels, "cannot tell"], SAID, strict=True)
        ]
        self.taps.offer("Which blotter smells stronger?", answers, kept)

    def find(self) -> None:
        """Search for a starting ratio."""
        self.words.show([])
        conditions, *_ = day_in_hand(self.hand.present.document)
        found = heard_ratio(self.blend, Nose(self.found, conditions))
        self.words.show(found.sentences)
        self.offer.show(found.blend, "every oil heard")

    def page(self) -> str:
        """The tray with its answer sheet."""
        return loudness_page(sorted(self.blend.oil_drops), self.reference)


def _counts(kept: Sequence[Kept]) -> Counter[str]:
    return Counter(name for each in kept for name in (each.read.first, each.read.second))
