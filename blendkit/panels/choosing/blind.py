"""Panel of blind tests: two bottles by code, one sitting after another, then a verdict."""

import itertools
from collections.abc import Sequence
from typing import Any

import ipywidgets as widgets

from blendkit.choosing import blind
from blendkit.choosing.blind import PAIRED, TRIANGLE
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.journal.records import AnswerRow, Version
from blendkit.journal.store import Journal
from blendkit.keeping.answers import BLIND, Kept
from blendkit.keeping.open_store import read_or
from blendkit.keeping.versions import kept_versions, lot_names
from blendkit.panels.choosing.sniffing import Taps, name_box
from blendkit.panels.kit import parts
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.kit.section import Section
from blendkit.panels.kit.watch import Watch
from blendkit.showing.choosing.sniffing import blind_page, score_line

ASKS = {PAIRED: "Which do you like better?", TRIANGLE: "Which is the odd one?"}
_KINDS = [("better? in pairs", PAIRED), ("different? in threes", TRIANGLE)]


class BlindPanel(parts.Panel):
    """Is one bottle better than another, or different at all, to a nose that cannot know?"""

    def __init__(self) -> None:
        self.message = parts.Message()
        self.refresh = self.message.guard(self.update)
        self._left: list[blind.Sitting] = []
        self._goes_on = False
        self.kind = parts.choice("Question", _KINDS)
        hint = {"placeholder": "a version, a lot, or any name"}
        labels = "One bottle", "The other"
        self.bottles = [name_box(label, "", "380px", **hint) for label in labels]
        self.tests = parts.text_box("Sittings", "8", "210px")
        self.picture, self.words = widgets.HTML(), parts.Findings("")
        self.taps = Taps(BLIND, self.message, self.tapped)
        self.more = parts.button("Test on", self.message.guard(self.test_on))
        tray = PrintButton("Print tray and answer sheet", self.page)
        parts.observe(self.refresh, self.kind, *self.bottles, self.tests)
        watch = Watch()
        watch.follow(self.refresh, AnswerRow, Version)
        self.section = Section(self.picture, self.words.view, self.more, self.taps.view)
        asked = widgets.VBox([self.taps.nose, self.kind, *self.bottles, self.tests, tray])
        body = parts.columns(parts.results(self.section.view), asked)
        title = parts.heading("Is it better, or different at all?")
        self.view = parts.panel_frame(title, self.message.view, body, watch)
        self.update()

    def update(self) -> None:
        """Show the test that is set, as far as it has come."""
        self.message.say("")
        offered = read_or(_bottles, list[str]())
        for each in self.bottles:
            each.options = offered
        self.section.attempt(self.answer)

    def answer(self) -> None:
        """Show what was answered, and the next sitting; a verdict once all are done."""
        (first, second), kept, picture = self._names(), list[Kept](), ""
        words, self._left, planned = ["Name two bottles, or one fresh and one rested."], [], 0
        if first and first == second:
            raise BadNumber([Problem("bottles", quoted(first), "two different names")])
        if first:
            test = self.kind.value, first, second
            kept = [one for one in self.taps.own() if one.read[:3] == test]
            planned = self._plan(", ".join((*test, self.taps.whose)), kept)
            picture, words = score_line("Answered", planned - len(self._left), planned), []
        is_over = bool(kept) and len(self._left) == planned and not self._goes_on
        if is_over:
            picture, words = self._verdict(kept)
        self.picture.value = picture
        self.words.show(words)
        self.more.layout.display = None if is_over else "none"
        if self._left and not is_over:
            self._ask(planned, kept)
        else:
            self.taps.offer("", [], kept)

    def _plan(self, series: str, kept: Sequence[Kept]) -> int:
        """Plan parts of a series, each with its codes, until one has sittings left."""
        tests: Any = parts.number_of(self.tests.value)
        done = {one.read.sitting for one in kept}
        plans = (
            blind.plan(self.kind.value, tests, f"{series}, {part}")
            for part in itertools.count()
        )
        planned = next(each for each in plans if not done.issuperset(each))
        self._left = [each for each in planned if each not in done]
        return len(planned)

    def _ask(self, tests: int, kept: Sequence[Kept]) -> None:
        sitting, kind, (first, second) = self._left[0], self.kind.value, self._names()
        document = {"kind": kind, "first": first, "second": second, "order": sitting.order,
                    "codes": list(sitting.codes)}  # fmt: skip
        answers = [(f"{code}", {**document, "picked": code}) for code in sitting.codes]
        ask = f"Sitting {tests - len(self._left) + 1} of {tests}. {ASKS[kind]}"
        self.taps.offer(f"{ask} No idea means guess.", answers, kept)

    def _verdict(self, kept: Sequence[Kept]) -> tuple[str, list[str]]:
        """Picture and words of a verdict on all sittings so far."""
        kind, tests = self.kind.value, len(kept)
        sittings = [one.read.sitting for one in kept]
        right = blind.right_answers(sittings, [one.read.picked for one in kept])
        is_pair = kind == PAIRED  # a liking may go either way
        words = [blind.verdict(right, tests, kind, two_sided=is_pair).words]
        needed = blind.least_right(tests, kind, two_sided=is_pair)
        if not is_pair:
            return score_line("Odd one found", right, tests, needed), words
        most, liked = max(zip((tests - right, right), self._names(), strict=True))
        words += [f"Liked better: {liked}."] * (most * 2 > tests)
        return score_line("Liked better", most, tests, needed), words

    def _names(self) -> list[str]:
        """Names of both bottles in an order of their own; empty where one is missing."""
        names = sorted(each.value.strip() for each in self.bottles)
        return names if all(names) else ["", ""]

    def tapped(self) -> None:
        """Go on within this part of the test; a further one is asked for."""
        self._goes_on = False
        self.update()

    def test_on(self) -> None:
        """Begin as many sittings again."""
        self._goes_on = True
        self.update()

    def page(self) -> str:
        """The tray of the sittings that are left, with its answer sheet."""
        names = dict(zip("AB", self._names(), strict=True))
        return blind_page(ASKS[self.kind.value], names, self._left)


def _bottles(journal: Journal) -> list[str]:
    """Versions and lots in the journal, to choose from by their names."""
    versions = [one.label for one in kept_versions(journal)]
    return [*versions, *(f"Lot {name}" for name in lot_names(journal).values())]
