"""Panel of blind tests: two bottles by code, one sitting after another, then a verdict."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Any

import ipywidgets as widgets

from blendkit.choosing.blind import (
    PAIRED,
    TRIANGLE,
    Sitting,
    least_right,
    plan,
    right_answers,
    verdict,
)
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.journal.records import AnswerRow, Version
from blendkit.journal.store import Journal
from blendkit.keeping.answers import BLIND, Kept
from blendkit.keeping.open_store import read_or
from blendkit.keeping.versions import kept_versions, lot_names
from blendkit.panels.choosing.taps import Taps
from blendkit.panels.kit.parts import (
    LABEL_WIDTH,
    Findings,
    Message,
    Panel,
    button,
    choice,
    columns,
    heading,
    number_of,
    panel_frame,
    results,
    text_box,
)
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.kit.section import Section
from blendkit.panels.kit.watch import Watch
from blendkit.showing.choosing.sniffing import blind_page, score_line

ASKS = {PAIRED: "Which do you like better?", TRIANGLE: "Which is the odd one?"}


class BlindPanel(Panel):
    """Is one bottle better than another, or different at all, to a nose that cannot know?"""

    def __init__(self) -> None:
        self.message = Message()
        self.refresh = self.message.guard(self.update)
        self._left: list[Sitting] = []
        self._goes_on = False
        self.kind = choice(
            "Question", [(f"{ask} ({kind})", kind) for kind, ask in ASKS.items()]
        )
        self.bottles = [_bottle_box(label) for label in ("One bottle", "The other")]
        self.tests = text_box("Sittings", "8", "210px")
        self.picture, self.words = widgets.HTML(), Findings("")
        self.taps = Taps(BLIND, self.message, self.tapped)
        self.more = button("Test on", self.message.guard(self.test_on))
        tray = PrintButton("Print tray and answer sheet", self.page)
        for each in (self.kind, *self.bottles, self.tests):
            each.observe(self.refresh, "value")
        self.watch = Watch()
        self.watch.follow(self.refresh, AnswerRow, Version)
        self.section = Section(self.picture, self.words.view, self.more, self.taps.view)
        asked = widgets.VBox([self.taps.nose, self.kind, *self.bottles, self.tests, tray])
        body = columns(results(self.section.view), asked)
        self.view = panel_frame(heading("Is it better?"), self.message.view, body, self.watch)
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
        kind, (first, second), self._left = self.kind.value, self._names(), []
        if not first or not second:
            self._show("", ["Name two bottles, or one bottle fresh and rested."])
            return
        if first == second:
            raise BadNumber([Problem("bottles", quoted(first), "two different names")])
        kept = [one for one in self.taps.kept() if one.read[:3] == (kind, first, second)]
        done = {one.read.sitting for one in kept}
        series = f"{kind}, {first}, {second}, {self.taps.nose.value.strip()}"
        tests: Any = number_of(self.tests.value)
        for part in itertools.count():
            planned = plan(kind, tests, f"{series}, {part}")
            self._left = [each for each in planned if each not in done]
            if self._left:
                break
        is_over = bool(kept) and len(self._left) == len(planned) and not self._goes_on
        if is_over:
            self._show(*self._verdict(kept))
        else:
            at = len(planned) - len(self._left)
            self._show(score_line("Answered", at, len(planned)), [])
        self._ask(kept, len(planned), is_over=is_over)

    def _ask(self, kept: Sequence[Kept], tests: int, *, is_over: bool) -> None:
        sitting, kind = self._left[0], self.kind.value
        document = {"kind": kind, "first": self._names()[0], "second": self._names()[1],
                    "order": sitting.order, "codes": list(sitting.codes)}  # fmt: skip
        answers = [(f"{code}", {**document, "picked": code}) for code in sitting.codes]
        place = tests - len(self._left) + 1
        ask = f"Sitting {place} of {tests}. {ASKS[kind]} No idea means guess."
        self.taps.offer(*(("", []) if is_over else (ask, answers)), kept)
        self.more.layout.display = None if is_over else "none"

    def _verdict(self, kept: Sequence[Kept]) -> tuple[str, list[str]]:
        """Picture and words of a verdict on all sittings so far."""
        kind, tests, is_pair = self.kind.value, len(kept), self.kind.value == PAIRED
        right = right_answers(
            *zip(*((one.read.sitting, one.read.picked) for one in kept), strict=True)
        )
        found = verdict(right, tests, kind, two_sided=is_pair)
        most, name, more = right, "Odd one found", []
        if is_pair:  # a liking may go either way
            liked, most = max(
                zip(self._names(), (tests - right, right), strict=True),
                key=lambda each: each[1],
            )
            name, more = "Liked better", [f"Liked better: {liked}."] * (most * 2 > tests)
        needed = least_right(tests, kind, two_sided=is_pair)
        return score_line(name, most, tests, needed), [found.words, *more]

    def _show(self, picture: str, words: Sequence[str]) -> None:
        self.picture.value = picture
        self.words.show(words)
        if not self._left:
            self.taps.offer("", [], [])
            self.more.layout.display = "none"

    def _names(self) -> list[str]:
        return sorted(each.value.strip() for each in self.bottles)

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


def _bottle_box(label: str) -> widgets.Combobox:
    return widgets.Combobox(
        description=label, ensure_option=False, continuous_update=False,
        placeholder="a version, a lot, or any name", style={"description_width": LABEL_WIDTH},
        layout=widgets.Layout(width="380px", max_width="calc(100% - 4px)"),
    )  # fmt: skip


def _bottles(journal: Journal) -> list[str]:
    """Versions and lots in the journal, to choose from by their names."""
    versions = [one.label for one in kept_versions(journal)]
    return [*versions, *(f"Lot {name}" for name in lot_names(journal).values())]
