"""Later in the day on the fade panel: put on again, washed, layered, and a schedule."""

from blendkit.blend.blend import Blend
from blendkit.evaporation import wearing
from blendkit.evaporation.fade_words import clock_words
from blendkit.evaporation.wear import Film, film_of, layered
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import to_si
from blendkit.panels.day.parts import Section, WornPanel, notes_in, offer
from blendkit.panels.kit import parts


class LaterSection(Section):
    """What happens to a wearing later in the day, and when to put on again."""

    def __init__(self, panel: WornPanel) -> None:
        super().__init__(panel)
        box = parts.text_box
        self.again = box("Put on again at", "13", "210px", placeholder="hour")
        self.wash = box("Washed at", "", "210px", placeholder="hour")
        self.left = parts.unit_box("Wash leaves", "%", "0 %")
        self.layer = parts.tick("Layer it over the held blend, as much of each")
        self.note = parts.choice("Keep perceived", [])
        self.until = box("until", "18", "210px", placeholder="hour")
        buttons = parts.row(
            self.button("Show this day", self.show),
            self.button("Find a schedule", self.plan, "Searching …"),
        )
        self.view = parts.column(
            *(self.again, self.wash, self.left, self.layer, self.note, self.until),
            *(buttons, self.result),
        )

    def offer(self, blend: Blend) -> None:
        """Offer the notes of a blend, and forget the result for an earlier one."""
        offer(self.note, [(f"the {note}", note) for note in notes_in(blend)])
        self.tell([])

    def show(self) -> None:
        """Until when each note is perceived on this day."""
        with self.refusing():
            events: list[wearing.Event] = []
            if self.again.value.strip():
                hour = self._hours(self.again.value, "put on again at")
                events.append(wearing.Again(hour))
            if self.wash.value.strip():
                left = to_si(self.left.quantity, "dimensionless", name="left")
                hour = self._hours(self.wash.value, "washed at")
                events.append(wearing.Wash(hour, left))
            film = self._film()
            clock = self.panel.clock_on(film.conditions.surface)
            day = wearing.day_of(film, events, clock=clock)
            self.tell(self._until(day, note) for note in NOTES if note in day.groups)
            self.panel.message.say("")

    def _until(self, day: wearing.Day, note: str) -> str:
        begun = self.panel.put_on_at()
        likely, low, high = (
            clock_words(begun + hour) if hour < wearing.LAST_HOUR else "the next day"
            for hour in day.until(note)
        )
        between = f"; two chances in three {low} to {high}" if low != high else ""
        return f"The {note} is perceived until {likely}{between}."

    def plan(self) -> None:
        """The fewest times on full hours that keep a note perceived."""
        with self.refusing():
            film, until = self._film(), self._hours(self.until.value, "until")
            found = wearing.schedule(film, self.note.value, until)
            what, most = f"the {self.note.value}", wearing.MOST_AGAIN
            if found is None:
                line = f"Even {most} more times do not keep {what} perceived until then."
            elif not found:
                line = (
                    f"Once is enough to keep {what} perceived until then, by the plain "
                    "forecast."
                )
            else:
                begun = self.panel.put_on_at()
                hours = ", ".join(clock_words(begun + hour) for hour in found)
                line = (
                    f"Put on again at {hours}. No schedule on full hours does with fewer, by "
                    "the plain forecast."
                )
            self.tell([line])
            self.panel.message.say("")

    def _film(self) -> Film:
        blend, conditions = self.panel.read()
        if not self.layer.value:
            return self.panel.by_my_nose(film_of(blend.bottle, conditions))
        under = self.panel.held_blend
        if under is None:
            fix = 'Press "Hold this curve to compare" first.'
            raise BadNumber([Problem("layer", "no held blend", "a blend under it", fix)])
        layers = [(each.bottle, conditions.film_kg_per_m2) for each in (under, blend)]
        return self.panel.by_my_nose(layered(layers, conditions))

    def _hours(self, text: str, name: str) -> float:
        """Hours since it was put on, from an hour of the day."""
        hour = parts.number_of(text)
        if isinstance(hour, str) or not 0 <= hour <= 24:
            raise BadNumber([Problem(name, quoted(text), "an hour of the day, such as 13.5")])
        return (hour - self.panel.put_on_at()) % 24
