"""The map of a blend: every recipe between three corners; drag, and the blend follows."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets as widgets
import numpy as np

from blendkit.blend.blend import Blend, BlendLike
from blendkit.choosing.map import HOURS, BlendMap, map_of
from blendkit.foundation.errors import BadNumber, BlendkitError, Problem, Refused, quoted
from blendkit.foundation.schema import NOTES
from blendkit.journal.records import BlendRow, Version
from blendkit.keeping.open_store import read_or
from blendkit.keeping.versions import KeptVersion, kept_versions
from blendkit.panels.bottle.blend_panel import BlendPanel
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.deferred import Aside, Deferred
from blendkit.showing.choosing.rows import lead_words, map_rows, point_words
from blendkit.showing.skin.fragments import note
from blendkit.skin.check import options
from blendkit.skin.counted_bottle import in_its_own_ratio

_HOURS = [("at first", 0), ("after 1 h", 1), ("after 4 h", 2)]
_PLACES = "Top corner", "Left corner", "Right corner"
_OF_A_DOT = {"name", "oils", "note_parts", "strength"}  # keys that a drag may change
_DRAWS = 64
_REST_SECONDS = 0.3
_Found = tuple[BlendMap, dict[int, str]]


class MapPanel(BlendPanel):
    """A ternary picture of a blend, its kept versions and its limits.

    Attributes
    ----------
    map : BlendMap or None
        None until it is calculated, and where none can be drawn.
    """

    notebook = ""
    map: BlendMap | None = None

    def __init__(self, blend: BlendLike | None = None) -> None:
        super().__init__(blend)
        guard, self._making, self._is_following = self.message.guard, Aside(), False
        self._made_for: object = None
        self._resting = Deferred()
        self.chart = ChartView("choosing", "map_chart", "Recipes of whole drops, and who leads")
        self.hour = widgets.ToggleButtons(
            options=_HOURS, tooltip="hour of wear", style={"button_width": "88px"}
        )
        self.corners = [parts.choice(place, [], "300px") for place in _PLACES]
        self.parts = [parts.text_box(f"Parts, {place.split()[0].lower()}") for place in _PLACES]
        self.words = widgets.HTML()
        self.results = parts.results(self.hour, self.chart, self.words)
        self.hour.observe(guard(self._point), "value")
        self.chart.observe(guard(self._drag), "picked")
        for each in self.corners:
            each.observe(self._follow_corners, "value")
        for box in self.parts:
            box.layout.width = "210px"
            box.observe(guard(self._type), "value")
        self.hand.watch.follow(guard(self._make), BlendRow, Version)
        typed = parts.fold("Type a ratio", *self.parts)
        self.lay_out(
            self.side_by_side(self.results, *self.corners, typed), stale=(self.results,)
        )

    def calculate(self, blend: Blend) -> None:
        """Show where the blend is; make a map where it is none of this one's recipes."""
        self.blend = blend
        self._offer(blend)
        document = blend.to_dict()
        rest = {key: value for key, value in document.items() if key not in _OF_A_DOT}
        made_for = self._groups(blend), rest
        if made_for == self._made_for and self._here() is not None:
            self._point()
        else:
            self._made_for = made_for
            self._make()
        self.defer(lambda: None)

    def _offer(self, blend: Blend) -> None:
        notes = [note for note in NOTES if note in {part.note for part in blend.oils}]
        ids = [part.oil.id for part in blend.oils]
        offered = [*((f"{note} notes", note) for note in notes), *options(ids)]
        chosen = [each.value for each in self.corners]
        if not {*chosen} <= {*notes, *ids}:
            chosen = (notes if len(notes) == len(NOTES) else ids)[: len(_PLACES)]
        self._is_following = True
        for each, value in zip(self.corners, [*chosen, *offered], strict=False):
            parts.set_options(each, offered)
            each.value = value if isinstance(value, str) else value[1]
        self._is_following = False

    def _follow_corners(self, _: Any) -> None:
        if not self._is_following:
            self.refresh()

    def _groups(self, blend: Blend) -> dict[str, list[str]]:
        """Oils of each corner, by its name."""
        names = dict(map(reversed, self.corners[0].options))
        return {
            chosen if chosen in NOTES else names[chosen]: [
                part.oil.id for part in blend.oils if chosen in (part.note, part.oil.id)
            ]
            for chosen in (each.value for each in self.corners)
        }

    def _make(self) -> None:
        """Calculate the map in a thread."""
        blend, groups = self.blend, self._groups(self.blend)
        kept: list[KeptVersion] = read_or(kept_versions, [])
        self.map = None
        self.words.value = note("Drawing the map …")

        def work() -> _Found:
            made = map_of(blend, groups)
            return made, _kept_on(made, kept)

        self._making.run(work, lambda found: self.message.guard(lambda: self._take(found))())

    def _take(self, result: Callable[[], _Found]) -> None:
        try:
            self.map, kept = result()
        except Refused as error:
            self.words.value = ""
            self.message.refuse(error, self.results)
            return
        self.chart.rows = map_rows(self.map, kept, self._here())
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
        if self._typed() != here:
            self._is_following = True
            for box, count in zip(self.parts, made.dots[here].tolist(), strict=True):
                box.value = f"{count}"
            self._is_following = False

    def _here(self) -> int | None:
        return None if self.map is None else self.map.dot_of(self.blend.oil_drops)

    def _typed(self) -> int | None:
        """The dot of the ratio in the boxes; None where it is none."""
        shares = [parts.number_of(box.value) for box in self.parts]
        if self.map is None or any(isinstance(each, str) for each in shares):
            return None
        try:
            return self.map.nearest(np.array(shares, dtype=float).tolist())
        except Refused:
            return None

    def _type(self) -> None:
        if self._is_following or self.map is None:
            return
        self.message.say("")
        dot = self._typed()
        if dot is None:
            got, needed = [box.value for box in self.parts], "three numbers, one above 0"
            raise BadNumber([Problem("ratio", quoted(got), needed)])
        self._go(dot)

    def _drag(self) -> None:
        if self.map is not None and 0 <= (self.chart.picked or 0) < len(self.map.dots):
            self._go(self.chart.picked or 0)

    def _go(self, dot: int) -> None:
        """Put the recipe of a dot on the panel, and so in hand."""
        if self.map is None or dot == self._here():
            return
        # as fixed counts: a slider of the ratio would answer late, and with an earlier value
        self.show(self.map.bottle.make(self.map.drops[dot]).with_(name=self.blend.name))
        self._resting.ask(self.message.guard(self._rest), _REST_SECONDS)

    def _rest(self) -> None:
        """Turn the counts into a ratio, once the press has ended."""
        if self.hand.watch.is_held:
            self._resting.ask(self.message.guard(self._rest), _REST_SECONDS)
        elif self._here() is not None and all(self.blend.oil_drops.values()):
            # an oil without a drop stays fixed in the list, so that it can come back
            self.show(in_its_own_ratio(self.blend))


def _kept_on(made: BlendMap, kept: list[KeptVersion]) -> dict[int, str]:
    """Kept versions that lie on a map, newest first where two share a dot."""
    found: dict[int, str] = {}
    for one in kept:
        try:
            place = made.place(one.blend())
        except BlendkitError:
            continue
        if place is not None:
            found.setdefault(made.nearest(place.tolist()), one.label)
    return found
