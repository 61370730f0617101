"""Parts that the pages of the day share."""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import AIRS, NOSES, SURFACES, Conditions
from blendkit.evaporation.forecast import Forecast, Lasting, lasting_of
from blendkit.evaporation.perception import SMELL, VAPOUR
from blendkit.evaporation.uncertainty import Clock
from blendkit.evaporation.wear import Film, film_of
from blendkit.foundation.errors import Refused
from blendkit.foundation.schema import NOTES
from blendkit.keeping.answers import as_smelt
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.bottle.hand import hour_of_day
from blendkit.panels.kit import parts

DRAWS = 256  # enough for a steady band; 512 change its ends by about a hundredth


class WornPanel(BlendPanel):
    """A blend and how it is worn, as the folded pages of its panel see it.

    Attributes
    ----------
    held, held_blend : Forecast and Blend, or None
        What is held for comparison.
    """

    held: Forecast | None = None
    held_blend: Blend | None = None

    def make_controls(self) -> None:
        """Make the controls of how it is worn, and tie them to what is in hand."""
        self.put_on = parts.SlidingNumber("Put on at", "9", 0, 23, 1)
        self.load = parts.SlidingNumber("Amount", "20 g/m²", 5, 50, 1, "g/m²")
        self.warmth = parts.SlidingNumber("Skin warmth", "32 °C", 28, 36, 0.5, "°C")
        self.air = parts.choice("Air", list(AIRS))
        self.surface = parts.choice("On", list(SURFACES))
        self.smelt = parts.choice("Smelt at", list(NOSES))
        ways = [("perceived strength", SMELL), ("vapour alone", VAPOUR)]
        self.way = parts.choice("Lines", ways)
        self.use = parts.tick("use what my nose and scale taught", ticked=True)
        self._conditions: dict[str, Any] = {
            "skin_temperature": self.warmth,
            "film": self.load,
            "air_speed": self.air,
            "surface": self.surface,
            "nose": self.smelt,
        }
        settings = {"put_on_at": self.put_on, **self._conditions, "by_my_nose": self.use}
        self.hand.settings = {("day", name): each for name, each in settings.items()}

    @property
    def worn(self) -> dict[str, Any]:
        """Conditions of wear as typed; keywords of `Conditions.read`."""
        return {name: control.value for name, control in self._conditions.items()}

    def read(self) -> tuple[Blend, Conditions]:
        """The blend and how it is worn, as the controls stand; `Refused` where they are bad."""
        return Blend.from_dict(self.editor.document), Conditions.read(**self.worn)

    def put_on_at(self) -> float:
        """Hour of the day at which it is put on."""
        return hour_of_day(self.put_on.value)

    def clock_on(self, surface: str) -> Clock | None:
        """Clock of the maker's nose, where it should be used."""
        raise NotImplementedError

    def by_my_nose(self, film: Film) -> Film:
        """A film as the maker's own nose smells it, where that should be used."""
        return as_smelt(film)[0] if self.use.value else film

    def lasting_with(
        self, blend: Blend, conditions: Conditions, clock: Clock | None
    ) -> Lasting:
        """Lasting of a blend by one clock, measured as the picture shows it."""
        film = self.by_my_nose(film_of(blend.bottle, conditions))
        return lasting_of(film, DRAWS, clock=clock, way=self.way.value)


class Section:
    """A folded page of the panel: a form, and its result in sentences."""

    view: widgets.Widget

    def __init__(self, panel: WornPanel, nothing: str = "") -> None:
        self.panel = panel
        self.words = parts.Findings(nothing)
        self.result = parts.column(self.words.view)

    def tell(self, lines: Iterable[str]) -> None:
        """Show sentences as a result that is good."""
        self.words.show(lines)
        parts.grey(self.result, stale=False)

    def button(
        self, label: str, action: Callable[[], None], working: str = ""
    ) -> widgets.Button:
        """A button whose errors are shown on the message line of the panel."""
        return parts.button(label, self.panel.message.guard(action, working))

    @contextmanager
    def refusing(self) -> Iterator[None]:
        """Grey the result where what is typed is refused."""
        try:
            yield
        except Refused as error:
            self.panel.message.refuse(error, self.result)


def notes_in(blend: Blend) -> list[str]:
    """The notes of a blend from the top down."""
    return [note for note in NOTES if note in {part.note for part in blend.oils}]


def offer(chooser: widgets.Dropdown, options: list[tuple[str, Any]]) -> None:
    """Change what can be chosen; what is chosen stays, even where it is no longer offered."""
    chosen, label = chooser.value, chooser.label
    if chosen is not None and chosen not in dict(options).values():
        options = [*options, (label, chosen)]
    if list(chooser.options) != options:
        chooser.options = options  # a list that was empty then chooses nothing by itself
        chooser.value = options[0][1] if chosen is None else chosen
