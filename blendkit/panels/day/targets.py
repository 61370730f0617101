"""Designing backwards on the fade panel: wishes, a bounded search, and what it found."""

import time
from collections.abc import Callable
from dataclasses import replace

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.design import design, without
from blendkit.evaporation.fading import LONGEST_HOURS
from blendkit.evaporation.targets import Leads, SameFade, Share, Wish
from blendkit.foundation.errors import BadNumber, Problem, attempt, quoted
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import counted, to_si
from blendkit.panels.day.parts import Section, WornPanel, notes_in, offer
from blendkit.panels.kit import parts
from blendkit.skin.check import findings_in, options
from blendkit.skin.finding_words import skin_in_words
from blendkit.skin.reformulation import reformulate

SILENT_SECONDS = 0.5  # a search that takes longer says that it is at work


class FadeWishes(Section):
    """Wishes for a fade, and the blend within the skin limits that comes nearest."""

    def __init__(self, panel: WornPanel) -> None:
        super().__init__(panel)
        self.wants_lead = parts.tick("A note should lead at an hour", ticked=True)
        self.lead = parts.choice(
            "Note", [(f"the {note}", note) for note in NOTES], value=NOTES[-1]
        )
        self.hour = parts.SlidingNumber("At hour", "6", 0, 12, 0.5)
        self.wants_share = parts.tick("The opening should hold a share")
        self.share_of = parts.choice("Of", [])
        self.share = parts.SlidingNumber("Share", "60 %", 0, 100, 5, "%")
        self.wants_same = parts.tick("Same fade as the held curve")
        self.left_out = parts.choice("Without", [_NOTHING])
        self.take_button = self.button("Use this blend", self.take)
        find = self.button("Find a blend", self.find, "Searching …")
        self.pictures = parts.columns()
        self.result.children = [self.words.view, self.pictures]
        actions = widgets.HBox([find, self.take_button])
        lead = (self.wants_lead, self.lead, self.hour.view)
        share = (self.wants_share, self.share_of, self.share.view)
        same = (self.wants_same, self.left_out)
        form = (widgets.HTML(_HINT), *lead, *share, *same, actions)
        self.view = widgets.VBox([*form, self.result])
        self._show_found(None, [])

    def offer(self, blend: Blend) -> None:
        """Offer the targets of a blend, and forget the result for an earlier one."""
        notes = notes_in(blend)
        families = sorted({oil.family for oil in blend.base_oils if oil.family})
        offer(self.lead, [(f"the {note}", note) for note in notes])
        of_family = [(f"{family}, the family", family) for family in families]
        of_note = [(f"{note}, the note", note) for note in notes]
        of_oil = options(oil.id for oil in blend.base_oils)
        offer(self.share_of, [*of_family, *of_note, *of_oil])
        held = self.panel.held_blend or blend
        offer(self.left_out, [_NOTHING, *options(p.oil.id for p in held.oils)])
        self._show_found(None, [])

    def find(self) -> None:
        """Search from the blend on the panel, and show what was found beside it."""
        self._set_found(None)
        with self.refusing():
            blend, conditions = self.panel.read()
            clock = self.panel.clock_on(conditions.surface)
            if clock:
                conditions = replace(conditions, clock_factor=clock.factor)
            wishes = self._wishes(conditions)
            start, remarks = self._start(blend)
            heard = self.panel.by_my_nose
            found = design(
                start, wishes, allowed=self._check(), conditions=conditions, heard=heard
            )
            if clock and clock.of_class:
                remarks.append("The search goes by your common clock, light and heavy alike.")
            skin = skin_in_words(findings_in(found.blend.bottle))
            bottles = {"Yours": blend.bottle, "Found": found.blend.bottle}
            self._show_found(
                found.blend if found.allowed else None,
                [*remarks, *found.sentences, *skin],
                *(parts.titled_bottle(title, bottle) for title, bottle in bottles.items()),
            )
            said = "Searched; yours stays until you take the found blend over."
            self.panel.message.say(said)

    def take(self) -> None:
        """Put the found blend in place of the maker's own."""
        if self.found is not None:
            self.panel.show(self.found)
            said = "The found blend is on the panel now; yours is as you kept it."
            self.panel.message.say(said)

    def _set_found(self, found: Blend | None) -> None:
        self.found, self.take_button.disabled = found, found is None

    def _show_found(
        self, found: Blend | None, lines: list[str], *pictures: widgets.Widget
    ) -> None:
        self._set_found(found)
        self.pictures.children = pictures
        self.tell(lines)

    def _wishes(self, conditions: Conditions) -> list[Wish]:
        wishes: list[Wish] = []
        problems: list[Problem] = []
        if self.wants_lead.value:
            hour = parts.number_of(self.hour.value)
            if isinstance(hour, str):
                needed = f"an hour from 0 to {LONGEST_HOURS:g} after it was put on"
                problems.append(Problem("at hour", quoted(hour), needed))
            else:
                wishes.append(Leads(self.lead.value, hour))
        if self.wants_share.value:
            share = attempt(problems, to_si, self.share.value, "dimensionless", name="share")
            wishes += [] if share is None else [Share(self.share_of.value, share)]
        held, held_blend = self.panel.held, self.panel.held_blend
        if self.wants_same.value and held and held_blend:
            worn = replace(held.film.conditions, clock_factor=conditions.clock_factor)
            wishes.append(SameFade.like(held_blend, worn, self.panel.by_my_nose))
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
