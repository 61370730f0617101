"""Later in the day on the fade panel: put on again, washed, layered, and a schedule."""

from __future__ import annotations

from blendkit.blend.blend import Blend
from blendkit.evaporation.fade_words import clock_words
from blendkit.evaporation.wear import Film, film_of
from blendkit.evaporation.wearing import (
    LAST_HOUR,
    MOST_AGAIN,
    Again,
    Event,
    Wash,
    day_of,
    layered,
    schedule,
)
from blendkit.foundation.errors import BadNumber, Problem, Refused, quoted
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import to_si
from blendkit.panels.day.parts import HasFade, offer
from blendkit.panels.kit import parts


class LaterSection:
    """What happens to a wearing later in the day, and when to put on again."""

    def __init__(self, panel: HasFade) -> None:
        self.panel = panel
        guard = panel.message.guard
        box = parts.text_box
        self.again = box("Put on again at", "13", "210px", placeholder="hour")
        self.wash = box("Washed at", "", "210px", placeholder="hour")
        self.left = parts.unit_box("Wash leaves", "%", "0 %")
        self.layer = parts.tick("Layer it over the held blend, as much of each")
        self.note = parts.choice("Keep perceived", [])
        self.until = box("until", "18", "210px", placeholder="hour")
        self.words = parts.Findings("")
        self.result = parts.column(self.words.view)
        buttons = parts.row(
            parts.button("Show this day", guard(self.show)),
            parts.button("Find a schedule", guard(self.plan, "Searching …")),
        )
        self.view = parts.column(
            *(self.again, self.wash, self.left, self.layer, self.note, self.until),
            *(buttons, self.result),
        )

    def offer(self, blend: Blend) -> None:
        """Offer the notes of a blend, and forget the result for an earlier one."""
        notes = [note for note in NOTES if note in {part.note for part in blend.oils}]
        offer(self.note, [(f"the {note}", note) for note in notes])
        self.words.show([])
        parts.grey(self.result, stale=False)

    def show(self) -> None:
        """Until when each note is perceived on this day."""
        try:
            events: list[Event] = []
            if self.again.value.strip():
                events.append(Again(self._hours(self.again.value, "put on again at")))
            if self.wash.value.strip():
                left = to_si(self.left.quantity, "dimensionless", name="left")
                events.append(Wash(self._hours(self.wash.value, "washed at"), left))
            film = self._film()
            clock = self.panel.clock_on(film.conditions.surface)
            day = day_of(film, events, clock=clock)
        except Refused as error:
            self.panel.message.refuse(error, self.result)
            return
        begun = self.panel.put_on_at()
        lines = []
        for note in (note for note in NOTES if note in day.groups):
            likely, low, high = (
                clock_words(begun + hour) if hour < LAST_HOUR else "the next day"
                for hour in day.until(note)
            )
            between = f"; two chances in three {low} to {high}" if low != high else ""
            lines.append(f"The {note} is perceived until {likely}{between}.")
        self._say(lines)

    def plan(self) -> None:
        """The fewest times on full hours that keep a note perceived."""
        try:
            film = self._film()
            until = self._hours(self.until.value, "until")
            found = schedule(film, self.note.value, until)
        except Refused as error:
            self.panel.message.refuse(error, self.result)
            return
        begun, what = self.panel.put_on_at(), f"the {self.note.value}"
        if found is None:
            line = f"Even {MOST_AGAIN} more times do not keep {what} perceived until then."
        elif not found:
            line = f"Once is enough to keep {what} perceived until then, by the plain forecast."
        else:
            hours = ", ".join(clock_words(begun + hour) for hour in found)
            line = (
                f"Put on again at {hours}. No schedule on full hours does with fewer, by the "
                "plain forecast."
            )
        self._say([line])

    def _film(self) -> Film:
        blend, conditions = self.panel.read()
        if not self.layer.value:
            return self.panel.by_my_nose(film_of(blend.bottle, conditions))
        under = self.panel.held_blend
        if under is None:
            fix = 'Press "Hold this curve to compare" first.'
            raise BadNumber([Problem("layer", "no held blend", "a blend under it", fix)])
        load = conditions.film_kg_per_m2
        two = [(under.bottle, load), (blend.bottle, load)]
        return self.panel.by_my_nose(layered(two, conditions))

    def _hours(self, text: str, name: str) -> float:
        """Hours since it was put on, from an hour of the day."""
        hour = parts.number_of(text)
        if isinstance(hour, str) or not 0 <= hour <= 24:
            raise BadNumber([Problem(name, quoted(text), "an hour of the day, such as 13.5")])
        return (hour - self.panel.put_on_at()) % 24

    def _say(self, lines: list[str]) -> None:
        self.words.show(lines)
        parts.grey(self.result, stale=False)
        self.panel.message.say("")
