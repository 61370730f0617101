"""What a person types: numbers, units, prices, and a number to drag or to type.

It is never changed: the text box is the truth, a slider only a handle.
"""

import re
import time
from collections import deque
from collections.abc import Callable
from typing import Any

import ipywidgets as widgets

from blendkit.foundation.units import in_print

LABEL_WIDTH = "118px"
_ECHO_SECONDS = 2.0  # after which a slider that goes back there was moved by a person


def labelled(label: str, width: str) -> dict[str, Any]:
    """Looks of a control with its label in front of it."""
    return {
        "description": label,
        "layout": widgets.Layout(width=width, max_width="calc(100% - 4px)"),
        "style": {"description_width": LABEL_WIDTH},
    }


def number_of(text: str) -> float | str:
    """A typed number, or the text itself where it is none (so that a check can say so)."""
    plain = text.strip().replace(",", ".")
    try:
        return int(plain) if plain.lstrip("+-").isdigit() else float(plain)
    except ValueError:
        return text


def with_unit(text: str, unit: str) -> str:
    """Add the unit of the box to a number typed without one.

    Examples
    --------
    >>> with_unit(" 0,350 ", "g"), with_unit("2 mL", "g")
    ('0,350 g', '2 mL')
    >>> with_unit("20", "× 10 mL"), with_unit("20 × 30 + 4 × 5", "× 10 mL")
    ('20 × 10 mL', '20 × 30 mL + 4 × 5 mL')
    """
    bare = text.strip()
    if unit.startswith("×"):  # a box of bottles
        size = rf"\1 {unit.rpartition(' ')[2]} "
        bare = re.sub(r"([×x*]\s*[\d.,]+)\s*(?=\+|$)", size, bare).strip()
    is_number = bare and not isinstance(number_of(bare), str)
    return f"{bare} {unit}".strip() if is_number else bare


def price_of(text: str, currency: str) -> dict[str, Any]:
    """A typed price and its currency, which is that of the panel where none is typed.

    Examples
    --------
    >>> price_of("0,80", "EUR"), price_of("7 USD", "EUR")
    ({'price': 0.8, 'currency': 'EUR'}, {'price': 7, 'currency': 'USD'})
    """
    number, _, code = text.strip().rpartition(" ")
    if not number:
        number, code = text, currency.strip()
    return {"price": number_of(number), "currency": code}


class SlidingNumber:
    """A number to drag or to type.

    Parameters
    ----------
    label : str
    value : str
        As a person would type it, unit included where it has one.
    low, high, step : float
        Range of the slider only; the box takes anything.
    unit : str, optional
        Of a bare number. Written behind it when the slider moves, as `units.in_print` does.
    """

    def __init__(
        self, label: str, value: str, low: float, high: float, step: float, unit: str = ""
    ) -> None:
        self.unit = unit
        reach = {"min": low, "max": high, "step": step}
        look = labelled(label, "290px")
        self.slider = widgets.FloatSlider(readout=False, **reach, **look)
        small = widgets.Layout(width="76px")
        self.box = widgets.Text(value, tooltip=label, continuous_update=False, layout=small)
        self._given: deque[tuple[float, float]] = deque(maxlen=16)  # when, and which number
        self._follow_box()
        self.slider.observe(self._from_slider, "value")
        self.box.observe(self._follow_box, "value")
        self.view = widgets.HBox([self.slider, self.box])

    @property
    def value(self) -> str:
        """Text of the box; a bare number with the unit."""
        return with_unit(self.box.value, self.unit)

    @value.setter
    def value(self, text: str) -> None:
        self.box.value = text

    def show_number(self, number: object) -> None:
        """Write a number, unless the box says it already in its own way."""
        if number_of(self.value) != number:
            self.value = f"{number:g}" if isinstance(number, float) else f"{number}"

    def disable(self, *, disabled: bool) -> None:
        """Grey the number while it changes nothing."""
        self.slider.disabled = self.box.disabled = disabled

    def on_change(self, callback: Callable[[Any], None]) -> None:
        """Call back whenever the value changes, dragged or typed."""
        self.box.observe(callback, "value")

    def _from_slider(self, change: Any) -> None:
        if not self.slider._property_lock:  # held while the page reports
            self._given.append((time.monotonic(), change["new"]))
        elif self._is_late(change["new"]):
            self._follow_box()
            return
        if not self._is_at(number_of(self._bare()), change["new"]):
            with self.box.hold_sync():  # what follows from the number is sent before it
                self.box.value = f"{change['new']:g}{' ' if self.unit else ''}{self.unit}"

    def _follow_box(self, _: Any = None) -> None:
        number = number_of(self._bare())
        if isinstance(number, str) or self._is_at(number, self.slider.value):
            return
        if self.slider.min <= number <= self.slider.max:
            self.slider.value = number

    def _is_late(self, place: float) -> bool:
        """True where a page reports a place that it was given shortly before the present one.

        It reports what it was given, rounded, and that may come after the next change.
        """
        *earlier, (_, last) = self._given or [(0.0, place)]
        since, near = time.monotonic() - _ECHO_SECONDS, self.slider.step * 0.01
        late = any(at > since and abs(one - place) < near for at, one in earlier)
        return late and abs(last - place) > near

    def _is_at(self, number: float | str, place: float) -> bool:
        """True where a number is at the slider, which takes whole steps only.

        The page puts the handle of 15.5 on 16 and reports it; that is no change of the number.
        """
        return isinstance(number, int | float) and abs(number - place) < self.slider.step * 0.51

    def _bare(self) -> str:
        return in_print(self.value).strip().removesuffix(self.unit).strip()
