"""Parts that the pages of the day share."""

from __future__ import annotations

from typing import Any, Protocol

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.forecast import Forecast
from blendkit.evaporation.lasting import Lasting
from blendkit.evaporation.uncertainty import Clock
from blendkit.evaporation.wear import Film
from blendkit.panels.kit.parts import Message


class HasFade(Protocol):
    """A panel with a blend and its fade on it, as its pages see it."""

    message: Message
    held: Forecast | None
    held_blend: Blend | None

    @property
    def worn(self) -> dict[str, Any]:
        """Conditions of wear, as typed."""

    def read(self) -> tuple[Blend, Conditions]:
        """The blend and how it is worn, as the controls stand."""

    def clock_on(self, surface: str) -> Clock | None:
        """The learnt clock that the forecast uses."""

    def by_my_nose(self, film: Film) -> Film:
        """A film as the maker's own nose smells it, where that should be used."""

    def lasting_with(
        self, blend: Blend, conditions: Conditions, clock: Clock | None
    ) -> Lasting:
        """Lasting of the blend by one clock."""

    def show(self, blend: Blend) -> None:
        """Put another blend on the panel."""

    def put_on_at(self) -> float:
        """Hour of the day at which it is put on."""

    def update(self) -> None:
        """Forecast anew from the controls."""


class Page(Protocol):
    """A folded page of the panel."""

    view: widgets.Widget
    result: widgets.Box


def offer(chooser: widgets.Dropdown, options: list[tuple[str, Any]]) -> None:
    """Change what can be chosen; what is chosen stays, even where it is no longer offered."""
    chosen, label = chooser.value, chooser.label
    if chosen is not None and chosen not in dict(options).values():
        options = [*options, (label, chosen)]
    if list(chooser.options) != options:
        chooser.options = options  # a list that was empty then chooses nothing by itself
        chooser.value = options[0][1] if chosen is None else chosen
