"""Panel 04: the day — how each note fades, with its band, and what changes it."""

import ipywidgets as widgets

from blendkit.blend.blend import Blend, BlendLike
from blendkit.evaporation.conditions import AIRS, SKINS, Conditions
from blendkit.evaporation.fade_words import sentences
from blendkit.evaporation.fading import hours_until
from blendkit.evaporation.forecast import Forecast, forecast, lasting_of
from blendkit.evaporation.perception import SMELL
from blendkit.evaporation.uncertainty import Clock
from blendkit.evaporation.wear import film_of
from blendkit.foundation.errors import Refused
from blendkit.journal.records import AnswerRow
from blendkit.keeping.answers import as_smelt
from blendkit.keeping.clock import TEACHERS
from blendkit.keeping.hand import Document
from blendkit.materials.catalogue import carrier
from blendkit.panels.bottle.hand import day_in_hand
from blendkit.panels.day.later import LaterSection
from blendkit.panels.day.nose_log import NoseLogSection
from blendkit.panels.day.parts import DRAWS, Section, WornPanel
from blendkit.panels.day.targets import FadeWishes
from blendkit.panels.day.weighings import WeighingSection
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.showing.day.fragments import comparison_table, front_list
from blendkit.showing.day.rows import HELD, fade_rows, lasting_rows

HOURS = 12.0
STRENGTHS = ("5 %", "10 %", "20 %")  # to compare
CARRIERS = ("jojoba", "mct-fractionated-coconut", "sweet-almond")
STRENGTH, CARRIER, WEAR = "strength", "carrier", "season and air"
JUDGED = {WEAR: "warmth and air are judgements, no published source"}


class FadePanel(WornPanel):
    """A blend through the day, with another one to compare it with.

    Attributes
    ----------
    forecast : Forecast
        Its fade.
    """

    notebook = "04_the_day"
    forecast: Forecast

    def __init__(self, blend: BlendLike | None = None) -> None:
        super().__init__(blend)
        self.make_controls()
        self.chart = ChartView(
            "day", "fade_chart", "Strength of each note through the day, with its band"
        )
        self.bars = ChartView(
            "day", "lasting_chart", "How long each oil is perceived, inside its note"
        )
        self.strengths, self.front = widgets.HTML(), widgets.HTML()
        self.sentences = parts.Findings("")
        guard = self.message.guard
        hold = parts.button("Hold this curve to compare", guard(self.hold))
        self.drop = parts.button("Remove comparison", guard(self.remove_comparison))
        self.drop.layout.display = "none"
        self.hand.watch.follow(self.refresh, *TEACHERS, AnswerRow)
        self.wishes, self.nose = FadeWishes(self), NoseLogSection(self)
        self.weighings, self.later = WeighingSection(self), LaterSection(self)
        folded: dict[str, Section] = {
            "Later in the day": self.later,
            "Design backwards": self.wishes,
            "Nose log": self.nose,
            "Weigh at home": self.weighings,
        }
        pages = widgets.Accordion([each.view for each in folded.values()])
        pages.titles = tuple(folded)
        self.comparing = parts.choice("Side by side", [STRENGTH, CARRIER, WEAR])
        self.results = widgets.VBox(
            [
                *(self.chart, widgets.HBox([hold, self.drop]), self.bars, self.front),
                *(parts.heading("In words"), self.sentences.view),
                *(self.comparing, self.strengths),
            ]
        )
        sliders = (self.put_on, self.load, self.warmth)
        choices = (self.air, self.surface, self.smelt, self.way, self.use)
        boxes = (slider.box for slider in sliders)
        parts.observe(self.refresh, *boxes, *choices, self.comparing)
        controls = [*(slider.view for slider in sliders), *choices]
        stale = (self.results, *(each.result for each in folded.values()))
        found = parts.results(self.results, pages)
        self.lay_out(self.side_by_side(found, *controls), stale=stale)

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
        by = as_smelt(film)[1] if self.use.value and way == SMELL else ""
        self.front.value = front_list(self.forecast, put_on_at, by)
        self.sentences.show(sentences(self.forecast, lasting))
        what = self.comparing.value
        others = {
            name: self.lasting_with(*each, clock)
            for name, each in self._others(what, conditions).items()
        }
        self.strengths.value = comparison_table(what, others, JUDGED.get(what, ""))
        self.wishes.offer(self.blend)
        self.nose.offer(self.blend, conditions.surface)
        self.weighings.offer(self.blend)
        self.later.offer(self.blend)

    def _others(self, what: str, worn: Conditions) -> dict[str, tuple[Blend, Conditions]]:
        """The blend by other strengths, in other carriers, or worn otherwise."""
        blend = self.blend
        if what == STRENGTH:
            return {text: (blend.with_(strength=text), worn) for text in STRENGTHS}
        if what == CARRIER:
            return {
                carrier(name).name: (blend.with_(carriers=[{"id": name}]), worn)
                for name in CARRIERS
            }
        changes: dict[str, dict[str, str]] = {"as set": {}}
        changes |= {words: {"skin_temperature": words} for words in SKINS}
        changes |= {words: {"air_speed": words} for words in AIRS}
        return {
            words: (blend, Conditions.read(**(self.worn | change)))
            for words, change in changes.items()
        }

    def clock_on(self, surface: str) -> Clock | None:
        """Clock of the maker's nose, where it should be used."""
        return self.nose.clock_on(surface) if self.use.value else None

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
