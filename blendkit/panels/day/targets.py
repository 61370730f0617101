"""Designing backwards on the fade panel: wishes, a bounded search, and what it found."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.design import Design, design, without
from blendkit.evaporation.fading import LONGEST_HOURS
from blendkit.evaporation.targets import Leads, SameFade, Share, Wish
from blendkit.foundation.errors import BadNumber, Problem, Refused, quoted
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import counted, to_si
from blendkit.panels.day.parts import HasFade, offer
from blendkit.panels.kit.parts import (
    Findings,
    SlidingNumber,
    button,
    choice,
    columns,
    grey,
    number_of,
    tick,
    titled_bottle,
)
from blendkit.skin.check import findings_in, options
from blendkit.skin.finding_words import skin_in_words
from blendkit.skin.reformulation import reformulate

SILENT_SECONDS = 0.5  # a search that takes longer says that it is at work


class FadeWishes:
    """Wishes for a fade, and the blend within the skin limits that comes nearest."""

    def __init__(self, panel: HasFade) -> None:
        self.panel = panel
        guard = panel.message.guard
        self.wants_lead = tick("A note should lead at an hour", ticked=True)
        self.lead = choice("Note", [(f"the {note}", note) for note in NOTES])
        self.lead.value = NOTES[-1]
        self.hour = SlidingNumber("At hour", "6", 0, 12, 0.5)
        self.wants_share = tick("The opening should hold a share")
        self.share_of = choice("Of", [])
        self.share = SlidingNumber("Share", "60 %", 0, 100, 5, "%")
        self.wants_same = tick("Same fade as the held curve")
        self.left_out = choice("Without", [_NOTHING])
        self.take_button = button("Use this blend", guard(self.take))
        self.words = Findings("")
        self.pictures = columns()
        self.result = widgets.VBox([self.words.view, self.pictures])
        self.found: Blend | None = None
        find = button("Find a blend", guard(self.find, "Searching …"))
        self.view = widgets.VBox(
            [
                widgets.HTML(_HINT),
                *(self.wants_lead, self.lead, self.hour.view),
                *(self.wants_share, self.share_of, self.share.view),
                *(self.wants_same, self.left_out),
                widgets.HBox([find, self.take_button]),
                self.result,
            ]
        )
        self.clear()

    def offer(self, blend: Blend) -> None:
        """Offer the targets of a blend, and forget the result for an earlier one."""
        notes = [note for note in NOTES if note in {part.note for part in blend.oils}]
        families = sorted({oil.family for oil in blend.base_oils if oil.family})
        offer(self.lead, [(f"the {note}", note) for note in notes])
        of_family = [(f"{family}, the family", family) for family in families]
        of_note = [(f"{note}, the note", note) for note in notes]
        of_oil = options(oil.id for oil in blend.base_oils)
        offer(self.share_of, [*of_family, *of_note, *of_oil])
        held = self.panel.held_blend or blend
        offer(self.left_out, [_NOTHING, *options(p.oil.id for p in held.oils)])
        self.clear()

    def find(self) -> None:
        """Search from the blend on the panel, and show what was found beside it."""
        self.found, self.take_button.disabled = None, True
        try:
            blend, conditions = self.panel.read()
            clock = self.panel.clock_on(conditions.surface)
            if clock:
                conditions = replace(conditions, clock_factor=clock.factor)
            wishes = self._wishes(conditions)
            start, remarks = self._start(blend)
            found = design(start, wishes, allowed=self._check(), conditions=conditions)
        except Refused as error:
            self.panel.message.refuse(error, self.result)
            return
        if clock and clock.of_class:
            remarks.append("The search goes by your common clock, light and heavy alike.")
        self._show(blend, found, remarks)

    def take(self) -> None:
        """Put the found blend in place of the maker's own."""
        if self.found is not None:
            self.panel.show(self.found)
            said = "The found blend is on the panel now; yours is as you kept it."
            self.panel.message.say(said)

    def clear(self) -> None:
        """Forget what was found for an earlier blend."""
        self.found, self.take_button.disabled = None, True
        self.words.show([])
        self.pictures.children = []
        grey(self.result, stale=False)

    def _show(self, blend: Blend, found: Design, remarks: list[str]) -> None:
        filling = found.blend.bottle
        skin = skin_in_words(findings_in(filling))
        self.words.show([*remarks, *found.sentences, *skin])
        self.pictures.children = [
            titled_bottle("Yours", blend.bottle),
            titled_bottle("Found", filling),
        ]
        grey(self.result, stale=False)
        self.found = found.blend if found.allowed else None
        self.take_button.disabled = self.found is None
        self.panel.message.say("Searched; yours stays until you take the found blend over.")

    def _wishes(self, conditions: Conditions) -> list[Wish]:
        wishes: list[Wish] = []
        problems: list[Problem] = []
        if self.wants_lead.value:
            hour = number_of(self.hour.value)
            if isinstance(hour, str):
                needed = f"an hour from 0 to {LONGEST_HOURS:g} after it was put on"
                problems.append(Problem("at hour", quoted(self.hour.value), needed))
            else:
                wishes.append(Leads(self.lead.value, hour))
        if self.wants_share.value:
            try:
                share = to_si(self.share.value, "dimensionless", name="share")
                wishes.append(Share(self.share_of.value, share))
            except BadNumber as error:
                problems += error.problems
        held, held_blend = self.panel.held, self.panel.held_blend
        if self.wants_same.value and held and held_blend:
            worn = replace(held.film.conditions, clock_factor=conditions.clock_factor)
            wishes.append(SameFade.like(held_blend, worn))
        elif self.wants_same.value:
            fix = 'Press "Hold this curve to compare" first.'
            problems.append(Problem("same fade", "no held curve", "a curve to follow", fix))
        if problems:
            raise BadNumber(problems)
        return wishes

    def _start(self, blend: Blend) -> tuple[Blend, list[str]]:
        """Start of the search: a blend that may be mixed, without the oil left out."""
        oil_id = self.left_out.value if self.wants_same.value else ""
        start = without(blend, oil_id) if oil_id in blend.oil_drops else blend
        if _within_limits(start):
            return start, []
        remark = (
            "Over a skin limit as it is, so the search began from the nearest blend within."
        )
        return reformulate(start).blend, [remark]

    def _check(self) -> Callable[[Blend], bool]:
        """The skin limits as a check, which says that it is at work when it takes long."""
        tried, last = 0, time.monotonic()

        def allowed(blend: Blend) -> bool:
            nonlocal tried, last
            tried += 1
            if time.monotonic() - last > SILENT_SECONDS:
                last = time.monotonic()
                self.panel.message.work(f"Searching … {counted(tried, 'blend')} tried so far.")
            return _within_limits(blend)

        return allowed


def _within_limits(blend: Blend) -> bool:
    return not any(finding.is_broken for finding in findings_in(blend.bottle))


_NOTHING = ("leaving nothing out", "")
_HINT = (
    '<p class="bk-faint">Tick what you wish, then let the drops be moved between the oils on '
    "the panel until they come nearest, within the skin limits of its market. An oil "
    "that should come in must be on the panel first; its total of drops stays.</p>"
)
