"""Panel 04: the day — how each note fades, with its band, and what changes it."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets

from blendkit.blend.blend import Blend, BlendLike
from blendkit.evaporation.conditions import AIRS, NOSES, SKINS, SURFACES, Conditions
from blendkit.evaporation.fade_words import sentences
from blendkit.evaporation.fading import hours_until
from blendkit.evaporation.forecast import Forecast, forecast
from blendkit.evaporation.lasting import Lasting, lasting_of
from blendkit.evaporation.perception import SMELL, VAPOUR
from blendkit.evaporation.uncertainty import Clock
from blendkit.evaporation.wear import Film, film_of
from blendkit.foundation.errors import Refused
from blendkit.journal.records import AnswerRow
from blendkit.keeping.answers import as_smelt
from blendkit.keeping.clock import TEACHERS
from blendkit.keeping.hand import Document
from blendkit.materials.catalogue import carrier
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.bottle.hand import day_in_hand, hour_of_day
from blendkit.panels.day.later import LaterSection
from blendkit.panels.day.nose_log import NoseLogSection
from blendkit.panels.day.parts import Page
from blendkit.panels.day.targets import FadeWishes
from blendkit.panels.day.weighings import WeighingSection
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.parts import (
    Findings,
    SlidingNumber,
    button,
    choice,
    heading,
    results,
)
from blendkit.showing.day.fragments import comparison_table, front_list
from blendkit.showing.day.rows import HELD, fade_rows, lasting_rows

HOURS = 12.0
STRENGTHS = ("5 %", "10 %", "20 %")  # to compare
CARRIERS = ("jojoba", "mct-fractionated-coconut", "sweet-almond")
STRENGTH, CARRIER, WEAR = "strength", "carrier", "season and air"
JUDGED = {WEAR: "warmth and air are judgements, no published source"}
DRAWS = 256  # enough for a steady band; 512 change its ends by about a hundredth


class FadePanel(BlendPanel):
    """A blend through the day, with another one to compare it with.

    Attributes
    ----------
    forecast : Forecast
        Its fade.
    held, held_blend : Forecast and Blend, or None
        What is held for comparison.
    """

    notebook = "04_the_day"
    forecast: Forecast
    held: Forecast | None = None
    held_blend: Blend | None = None

    def __init__(self, blend: BlendLike | None = None) -> None:
        super().__init__(blend)
        self.put_on = SlidingNumber("Put on at", "9", 0, 23, 1)
        self.load = SlidingNumber("Amount", "20 g/m²", 5, 50, 1, "g/m²")
        self.warmth = SlidingNumber("Skin warmth", "32 °C", 28, 36, 0.5, "°C")
        self.air = choice("Air", list(AIRS))
        self.surface = choice("On", list(SURFACES))
        self.smelt = choice("Smelt at", list(NOSES))
        self.way = choice("Lines", [("perceived strength", SMELL), ("vapour alone", VAPOUR)])
        self.chart = ChartView(
            "day", "fade_chart", "Strength of each note through the day, with its band"
        )
        self.bars = ChartView(
            "day", "lasting_chart", "How long each oil is perceived, inside its note"
        )
        self.strengths = widgets.HTML()
        self.front, self.sentences = widgets.HTML(), Findings("")
        hold = button("Hold this curve to compare", self.message.guard(self.hold))
        self.drop = button("Remove comparison", self.message.guard(self.remove_comparison))
        self.drop.layout.display = "none"
        self.hand.settings = {
            ("day", "put_on_at"): self.put_on,
            ("day", "skin_temperature"): self.warmth,
            ("day", "film"): self.load,
            ("day", "air_speed"): self.air,
            ("day", "surface"): self.surface,
            ("day", "nose"): self.smelt,
        }
        self.hand.watch.follow(self.refresh, *TEACHERS, AnswerRow)
        self.wishes, self.nose = FadeWishes(self), NoseLogSection(self)
        self.hand.settings["day", "by_my_nose"] = self.nose.use
        self.weighings, self.later = WeighingSection(self, self.nose), LaterSection(self)
        folded: dict[str, Page] = {
            "Later in the day": self.later,
            "Design backwards": self.wishes,
            "Nose log": self.nose,
            "Weigh at home": self.weighings,
        }
        pages = widgets.Accordion([each.view for each in folded.values()])
        pages.titles = tuple(folded)
        self.comparing = choice("Side by side", [STRENGTH, CARRIER, WEAR])
        self.comparing.observe(self.refresh, "value")
        compared = (self.comparing, self.strengths)
        words = (self.front, heading("In words"), self.sentences.view, *compared)
        held = widgets.HBox([hold, self.drop])
        self.results = widgets.VBox([self.chart, held, self.bars, *words])
        sliders = (self.put_on, self.load, self.warmth)
        for slider in sliders:
            slider.on_change(self.refresh)
        choices = (self.air, self.surface, self.smelt, self.way)
        for each in choices:
            each.observe(self.refresh, "value")
        conditions = [slider.view for slider in sliders]
        controls = [*conditions, *choices, self.nose.use]
        stale = (self.results, *(each.result for each in folded.values()))
        self.lay_out(self.side_by_side(results(self.results, pages), *controls), stale=stale)

    def calculate(self, blend: Blend) -> None:
        """Forecast the blend as it is worn."""
        conditions, put_on_at = Conditions.read(**self.worn), self.put_on_at()
        self.blend = blend
        clock = self.clock_on(conditions.surface)
        film, way = self.by_my_nose(film_of(blend.bottle, conditions)), self.way.value
        self.forecast = forecast(film, hours_until(HOURS), DRAWS, clock=clock, way=way)
        rows = list(fade_rows(self.forecast, put_on_at))
        if self.held is not None:
            rows += fade_rows(self.held, put_on_at, HELD)
        self.chart.rows = rows
        self.defer(lambda: self._tell(conditions, put_on_at, clock))

    def _tell(self, conditions: Conditions, put_on_at: float, clock: Clock | None) -> None:
        film, way = self.forecast.film, self.way.value
        lasting = lasting_of(film, DRAWS, clock=clock, way=way)
        self.bars.rows = lasting_rows(lasting)
        by = as_smelt(film)[1] if self.nose.use.value and way == SMELL else ""
        self.front.value = front_list(self.forecast, put_on_at, by)
        self.sentences.show(sentences(self.forecast, lasting))
        self._compare(conditions, clock)
        self.wishes.offer(self.blend)
        self.nose.offer(self.blend, conditions.surface)
        self.weighings.offer(self.blend)
        self.later.offer(self.blend)

    def _compare(self, conditions: Conditions, clock: Clock | None) -> None:
        """Show times side by side: other strengths, other carriers, or worn otherwise."""
        blend, what = self.blend, self.comparing.value
        others = {
            STRENGTH: lambda: {
                text: (blend.with_(strength=text), conditions) for text in STRENGTHS
            },
            CARRIER: lambda: {
                carrier(name).name: (blend.with_(carriers=[{"id": name}]), conditions)
                for name in CARRIERS
            },
            WEAR: lambda: {
                words: (blend, Conditions.read(**(self.worn | change)))
                for words, change in (
                    ("as set", {}),
                    *((words, {"skin_temperature": words}) for words in SKINS),
                    *((words, {"air_speed": words}) for words in AIRS),
                )
            },
        }[what]()
        self.strengths.value = comparison_table(
            what,
            {name: self.lasting_with(*each, clock) for name, each in others.items()},
            JUDGED.get(what, ""),
        )

    @property
    def worn(self) -> dict[str, Any]:
        """Conditions of wear as typed; keywords of `Conditions.read`."""
        return {
            "skin_temperature": self.warmth.value,
            "film": self.load.value,
            "air_speed": self.air.value,
            "surface": self.surface.value,
            "nose": self.smelt.value,
        }

    def read(self) -> tuple[Blend, Conditions]:
        """The blend and how it is worn, as the controls stand; `Refused` where they are bad."""
        return Blend.from_dict(self.editor.document), Conditions.read(**self.worn)

    def clock_on(self, surface: str) -> Clock | None:
        """Clock of the maker's nose, where it should be used."""
        return self.nose.clock_on(surface) if self.nose.use.value else None

    def by_my_nose(self, film: Film) -> Film:
        """A film as the maker's own nose smells it, where that should be used."""
        return as_smelt(film)[0] if self.nose.use.value else film

    def lasting_with(
        self, blend: Blend, conditions: Conditions, clock: Clock | None
    ) -> Lasting:
        """Lasting of a blend by one clock, measured as the picture shows it."""
        film = self.by_my_nose(film_of(blend.bottle, conditions))
        return lasting_of(film, DRAWS, clock=clock, way=self.way.value)

    def hold(self) -> None:
        """Keep the present curve on the picture while the blend changes."""
        self.held, self.held_blend = self.forecast, self.blend
        self.drop.layout.display = None
        self.update()
        self.message.say("Held: the dashed lines. Now change something and compare.")

    def remove_comparison(self) -> None:
        """Take the held curve off the picture."""
        self.held = self.held_blend = None
        self.drop.layout.display = "none"
        self.update()

    def is_sound(self, document: Document) -> bool:
        """Whether blend and conditions of wear of a document can be in hand."""
        try:
            day_in_hand(document)
        except Refused:
            return False
        return super().is_sound(document)

    def put_on_at(self) -> float:
        """Hour of the day at which it is put on."""
        return hour_of_day(self.put_on.value)
