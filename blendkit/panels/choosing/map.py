"""The map of a blend: every recipe between three corners; drag, and the blend follows."""

from typing import Any

import ipywidgets as widgets

from blendkit.blend.blend import Blend, BlendLike
from blendkit.choosing.map import HOURS, BlendMap, map_of
from blendkit.foundation.errors import BlendkitError, attempt
from blendkit.foundation.schema import NOTES
from blendkit.journal.records import BlendRow, Version
from blendkit.keeping.open_store import read_or
from blendkit.keeping.versions import KeptVersion, kept_versions
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.deferred import Aside, Deferred
from blendkit.panels.kit.message import raise_flag
from blendkit.showing.choosing.rows import lead_words, map_rows, point_words
from blendkit.showing.skin.fragments import note
from blendkit.skin.check import options
from blendkit.skin.counted_bottle import in_its_own_ratio

_HOURS = [("at first", 0), ("after 1 h", 1), ("after 4 h", 2)]
_OF_A_DOT = {"name", "oils", "note_parts", "strength"}  # keys that a drag may change
_DRAWS = 64
_REST_SECONDS = 0.3


class MapPanel(BlendPanel):
    """A ternary picture of a blend, its kept versions and its limits.

    Attributes
    ----------
    map : BlendMap or None
        None until it is calculated, and where none can be drawn.
    """

    notebook = ""
    map: BlendMap | None = None
    _made_for: object = None
    _is_put = False  # while controls follow

    def __init__(self, blend: BlendLike | None = None) -> None:
        super().__init__(blend)
        guard = self.message.guard
        self._making, self._resting = Aside(guard), Deferred()
        self.chart = ChartView("choosing", "map_chart", "Recipes of whole drops, and who leads")
        self.hour = widgets.ToggleButtons(
            options=_HOURS, tooltip="hour of wear", style={"button_width": "88px"}
        )
        places = "Top corner", "Left corner", "Right corner"
        self.corners = [parts.choice(place, [], "300px") for place in places]
        self.ratio = parts.text_box("Ratio", placeholder="such as 2 : 1 : 2")
        self.words = widgets.HTML()
        self.results = parts.results(self.hour, self.chart, self.words)
        self.hour.observe(guard(self._point), "value")
        self.chart.observe(guard(lambda: self.go(self.chart.picked or 0)), "picked")
        self.ratio.observe(guard(self._type), "value")
        parts.observe(lambda _: None if self._is_put else self.refresh(), *self.corners)
        self.hand.watch.follow(guard(self._make), BlendRow, Version)
        body = self.side_by_side(self.results, *self.corners, self.ratio)
        self.lay_out(body, stale=(self.results,))

    def calculate(self, blend: Blend) -> None:
        """Show where the blend is; make a map where it is none of this one's recipes."""
        self.blend = blend
        groups = self._groups(blend)
        document = blend.to_dict().items()
        made_for = groups, {key: value for key, value in document if key not in _OF_A_DOT}
        if made_for == self._made_for and self._here() is not None:
            self._point()
        else:
            self._made_for = made_for
            self._make()
        self.defer(lambda: None)

    def _groups(self, blend: Blend) -> dict[str, list[str]]:
        """Offer notes and oils as corners; the oils of those chosen, by name."""
        held = {part.oil.id: part.note for part in blend.oils}
        notes = [note for note in NOTES if note in held.values()]
        offered = {note: f"{note} notes" for note in notes}
        offered |= {name: label for label, name in options(held)}
        first = notes if len(notes) == len(NOTES) else [*held]
        chosen = [each.value for each in self.corners]
        chosen = chosen if {*chosen} <= {*offered} else [*first, *first, *first][:3]
        with raise_flag(self, "_is_put"):
            for each, value in zip(self.corners, chosen, strict=True):
                parts.set_options(each, [(label, name) for name, label in offered.items()])
                each.value = value
        return {
            value if value in notes else offered[value]: [
                name for name, note in held.items() if value in (name, note)
            ]
            for value in chosen
        }

    def _make(self) -> None:
        """Calculate the map in a thread."""
        blend, groups = self.blend, self._groups(self.blend)
        kept: list[KeptVersion] = read_or(kept_versions, [])
        self.map, self.words.value = None, note("Drawing the map …")

        def work() -> tuple[BlendMap, dict[int, str]]:
            made = map_of(blend, groups)
            return made, _kept_on(made, kept)

        self._making.run(work, lambda found: self._take(*found))

    def _take(self, made: BlendMap, kept: dict[int, str]) -> None:
        self.map = made
        self.chart.rows = map_rows(made, kept, self._here())
        self._point()

    def _point(self) -> None:
        """Mark the blend on the map, and say who leads there."""
        made, here = self.map, self._here()
        if made is None or here is None:
            return
        drawn = [row["pick"] for row in self.chart.rows if "pick" in row]
        away = ((made.dots[drawn] - made.dots[here]) ** 2).sum(axis=1)
        self.chart.signals = {"hour": self.hour.value, "here": drawn[int(away.argmin())]}
        leads = made.leads_at(here, _DRAWS).tolist()
        said = f"{point_words(made, here)}. {lead_words(made, leads, HOURS)}"
        self.chart.label = f"Recipes of whole drops, and who leads. In hand: {said}"
        self.words.value = note(said)
        if attempt([], made.nearest, self._shares()) != here:
            with raise_flag(self, "_is_put"):
                self.ratio.value = " : ".join(map(str, made.dots[here].tolist()))

    def _here(self) -> int | None:
        return None if self.map is None else self.map.dot_of(self.blend.oil_drops)

    def _shares(self) -> list[str]:
        return str(self.ratio.value).replace(",", ".").split(":")

    def _type(self) -> None:
        if not self._is_put and self.map is not None:
            self.message.say("")
            self.go(self.map.nearest(self._shares()))

    def go(self, dot: int) -> None:
        """Put the recipe of a dot on the panel, and so in hand."""
        if self.map is None or dot == self._here() or not 0 <= dot < len(self.map.dots):
            return
        # as fixed counts: a slider of the ratio would answer late, and with an earlier value
        self.show(self.map.bottle.make(self.map.drops[dot]).with_(name=self.blend.name))
        self._resting.ask(self._rest, _REST_SECONDS)

    def _rest(self) -> None:
        """Turn the counts into a ratio, once the press has ended."""
        if self.hand.watch.is_held:
            self._resting.ask(self._rest, _REST_SECONDS)
        elif self._here() is not None and all(self.blend.oil_drops.values()):
            # an oil without a drop stays fixed in the list, so that it can come back
            self.message.guard(lambda: self.show(in_its_own_ratio(self.blend)))()


def _kept_on(made: BlendMap, kept: list[KeptVersion]) -> dict[int, str]:
    """Kept versions that lie on a map, newest first where two share a dot."""
    found: dict[int, str] = {}
    for one in kept:
        try:
            place: Any = made.place(one.blend())
        except BlendkitError:
            continue
        if place is not None:
            found.setdefault(made.nearest(place), one.label)
    return found
