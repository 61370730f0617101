"""The door through which units come in and go out.

People write and read quantities with units ("10 mL", "20 %"); inside the package there are
only plain floats whose names end in their SI unit (`volume_m3`, `mass_kg`). A bare number
where a unit matters is refused, never guessed.
"""

from __future__ import annotations

import contextlib
import math
import re
from datetime import date, datetime, timedelta
from functools import cache
from numbers import Real
from typing import TYPE_CHECKING, Any, TypeGuard

import numpy as np
import numpy.typing as npt

from blendkit.foundation.errors import BadNumber, Problem, quoted, text_of

if TYPE_CHECKING:
    from pint import Quantity, UnitRegistry

FloatArray = npt.NDArray[np.float64]
Time = float | str | timedelta
ML_PER_M3 = 1e6
G_PER_KG = 1e3
KG_PER_M3_PER_G_PER_ML = ML_PER_M3 / G_PER_KG
SECONDS_PER_HOUR = 3600.0
KELVIN_AT_0_CELSIUS = 273.15
GAS_CONSTANT_J_PER_MOL_K = 8.31446261815324  # exact since 2019 (CODATA 2018)
STANDARD_ATMOSPHERE_PA = 101325.0  # exact by definition (CGPM 1954)
YEARS = range(1969, 3000)  # where computers can shift a day from one time zone to another

_EXAMPLES = {
    "m**3": ("a volume", "10 mL"),
    "kg": ("a mass", "0.66 g"),
    "m": ("a length", "3 mm"),
    "dimensionless": ("a share", "20 %"),
    "K": ("a temperature", "32 °C"),
    "kg/m**2": ("a mass per area", "20 g/m²"),
    "kg/m**3": ("a density", "0.88 g/mL"),
    "N/m": ("a surface tension", "28 mN/m"),
    "m/s": ("a speed", "0.2 m/s"),
    "s": ("a time", "2 h"),
    "mol/m**3": ("an amount per volume", "12 mmol/L"),
}
# A unit is letters, with at most single-digit powers: pint would happily calculate 9**9**9.
_NUMBER_AND_UNIT = re.compile(
    r"(?P<number>[+-]?\d*[.,]?\d+(?:[eE][+-]?\d{1,3})?|[+-]?\d+[.,])\s*"
    r"(?P<unit>[^\W\d]*[%‰°]?(?:[^\W\d]|(?:\*\*|\^)-?[1-4](?!\d)|[*/ ](?=[^\W\d])){0,30})"
)
_LONGEST_QUANTITY = 100  # characters
_FLUID_OUNCE = re.compile(r"(?i)fl\.?\s*oz\.?")  # two words to people, one to pint
_THOUSANDS = re.compile(r"^[+-]?[1-9]\d{0,2},\d{3}$")


@cache
def registry() -> UnitRegistry[Any]:
    """The one unit registry; loaded on first use, since loading it takes a while.

    It is pint's own one for all of a program, so that quantities made elsewhere fit. Where
    nobody has used that yet, what is read of pint's files comes from the user's cache.
    """
    import pint

    shared: Any = pint.get_application_registry()  # type: ignore[no-untyped-call]
    if isinstance(shared.get(), pint.registry.LazyRegistry):
        with contextlib.suppress(OSError):  # without a cache it only takes longer
            pint.set_application_registry(pint.UnitRegistry(cache_folder=":auto:"))  # type: ignore[no-untyped-call]
    return shared  # type: ignore[no-any-return]


def to_si(value: str | Quantity[Any] | timedelta, unit: str, *, name: str) -> float:
    """A quantity with its unit, as a plain float in an SI unit.

    Parameters
    ----------
    value : str, pint Quantity or timedelta
        Such as ``"10 mL"``; a timedelta for a time. A bare number is refused.
    unit : str
        The SI unit wanted, such as ``"m**3"``, ``"kg"`` or ``"dimensionless"``.
    name : str
        What the quantity is, for the message.

    Returns
    -------
    float
        Finite magnitude in `unit`.

    Raises
    ------
    BadNumber
        No unit, a unit of another kind, text that is no quantity, or not finite.

    Examples
    --------
    >>> to_si("10 mL", "m**3", name="bottle")
    1e-05
    >>> to_si("20 %", "dimensionless", name="strength")
    0.2
    """
    kind, example = _EXAMPLES[unit]
    needed = f'{kind} with its unit, such as "{example}"'
    quantity = _parse(value, needed, name)
    units = registry()
    if not quantity.check(units.get_dimensionality(units.parse_units(unit))) or (
        unit == "dimensionless" and not _is_share(quantity)
    ):
        got = f"{quoted(str(value))}, which is {_kind_of(quantity)}"
        raise BadNumber([Problem(name, got, needed)])
    magnitude = float(quantity.to(unit).magnitude)
    if not math.isfinite(magnitude) or (unit == "K" and magnitude <= 0):
        raise BadNumber([Problem(name, quoted(str(value)), f"a finite number: {needed}")])
    # pint works in binary; twelve digits are far beyond any scale and keep 10 mL at 1e-5
    return float(f"{magnitude:.12g}")


def _parse(value: object, needed: str, name: str) -> Quantity[Any]:
    units = registry()
    if isinstance(value, timedelta):
        return units.Quantity(value.total_seconds(), "s")
    if isinstance(getattr(value, "magnitude", None), Real):
        # built again, so that a quantity from another registry counts as well
        return units.Quantity(float(value.magnitude), str(value.units))  # type: ignore[attr-defined]
    if not isinstance(value, str):
        raise BadNumber([Problem(name, f"{quoted(value)}, which has no unit", needed)])
    text = value.strip() if len(value) <= _LONGEST_QUANTITY else ""
    found = _NUMBER_AND_UNIT.fullmatch(_FLUID_OUNCE.sub("floz", text))
    if found is None:
        raise BadNumber([Problem(name, quoted(value), needed)])
    number, unit = found["number"], (found["unit"] or "").strip()
    if _THOUSANDS.search(number):
        fix = (
            "Is the comma a decimal sign or does it separate thousands? Write it with a point."
        )
        raise BadNumber([Problem(name, quoted(value), needed, fix)])
    if not unit:
        raise BadNumber([Problem(name, f"{quoted(value)}, which has no unit", needed)])
    try:
        quantity = units.Quantity(float(number.replace(",", ".")), units.parse_units(unit))
        quantity.to_base_units()  # what mixes degrees or decibels with others cannot be turned
        return quantity
    except Exception as error:  # pint raises many kinds, its tokenizer's among them
        got = f'{quoted(value)}, whose unit "{unit}" is unknown'
        raise BadNumber([Problem(name, got, needed)]) from error


def in_hours(time: Time | Quantity[Any]) -> float:
    """A time in hours; a plain number counts hours. [h]

    Raises
    ------
    BadNumber
        Text or a quantity that is no time.

    Examples
    --------
    >>> in_hours("90 min"), in_hours(timedelta(minutes=90)), in_hours(2)
    (1.5, 1.5, 2.0)
    """
    if isinstance(time, Real):
        return float(time)
    return to_si(time, "s", name="hours") / SECONDS_PER_HOUR  # type: ignore[arg-type]


def as_text(quantity: Quantity[Any]) -> str:
    """A pint quantity as text that `to_si` reads as the same amount.

    Examples
    --------
    >>> as_text(registry().Quantity(30, "cm**3"))
    '30 centimeter**3'
    """
    return f"{float(quantity.magnitude):.12g} {quantity.units}".replace(" ** ", "**")


def in_print(text: str) -> str:
    """A typed quantity with its unit as it is printed; any other text stays.

    As pint prints it, which writes the millilitre "ml".

    Examples
    --------
    >>> in_print("20 g/m**2"), in_print("32,5 degC"), in_print("two")
    ('20 g/m²', '32,5 °C', 'two')
    """
    found = _NUMBER_AND_UNIT.fullmatch(text.strip())
    if found is None or not found["unit"]:
        return text
    try:
        unit = registry().parse_units(found["unit"].strip())
    except Exception:  # pint raises many kinds
        return text
    return f"{found['number']} {unit:~P}"


def _is_share(quantity: Quantity[Any]) -> bool:
    """True for a dimensionless quantity that is a share: angles, bits and decibels are none."""
    return str(quantity.units) in {"", "dimensionless", "percent", "permille", "ppm"}


def _kind_of(quantity: Quantity[Any]) -> str:
    if quantity.dimensionless:
        return "a plain share or number"
    for unit, (kind, _) in _EXAMPLES.items():
        if quantity.check(registry().parse_units(unit)):
            return kind
    return f"of the kind {quantity.dimensionality}"


def read_day(value: object, name: str) -> date:
    """Read a day: a date, or ISO text such as "2026-11-25".

    Raises
    ------
    BadNumber
        Not a day, or not of `YEARS`.
    """
    try:
        day = value if isinstance(value, date) else date.fromisoformat(text_of(value).strip())
    except ValueError:
        day = date.min
    if day.year not in YEARS:
        needed = f"a date from {YEARS.start} on, YYYY-MM-DD"
        raise BadNumber([Problem(name, quoted(value), needed)])
    return day.date() if isinstance(day, datetime) else day


def show(number: float, digits: int = 3) -> str:
    """A number with `digits` significant digits and no exponent, for people.

    Examples
    --------
    >>> show(0.333333), show(12.0), show(1234.5), show(0.0)
    ('0.333', '12', '1234', '0')
    """
    if number == 0 or not math.isfinite(number):
        return "0" if number == 0 else str(number)
    places = max(0, digits - 1 - math.floor(math.log10(abs(number))))
    text = f"{number:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def show_ml(volume_m3: float, digits: int = 3) -> str:
    """A volume [m3] in millilitres, for people.

    Examples
    --------
    >>> show_ml(1e-5), show_ml(2.5e-7)
    ('10 mL', '0.25 mL')
    """
    return f"{show(volume_m3 * ML_PER_M3, digits)} mL"


def show_g(mass_kg: float, digits: int = 3) -> str:
    """A mass [kg] in grams, for people.

    Examples
    --------
    >>> show_g(0.00912)
    '9.12 g'
    """
    return f"{show(mass_kg * G_PER_KG, digits)} g"


def signed(percent: float) -> str:
    """A percentage with a real minus sign; one that rounds to 0 has no sign.

    Examples
    --------
    >>> signed(12.3), signed(-5), signed(0.001)
    ('+12.30', '−5.00', '0.00')
    """
    return "0.00" if abs(percent) < 0.005 else f"{percent:+.2f}".replace("-", "−")


def counted(count: int, noun: str) -> str:
    """A count with its noun.

    Examples
    --------
    >>> counted(1, "drop"), counted(16, "drop")
    ('1 drop', '16 drops')
    """
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def is_positive_number(value: object) -> TypeGuard[float]:
    """True for a finite number above 0 (True and False are not numbers here)."""
    if isinstance(value, bool) or not isinstance(value, Real):
        return False
    try:
        number = float(value)
    except OverflowError:  # an int with more digits than a float can hold
        return False
    return math.isfinite(number) and number > 0


def is_whole_number(value: object, least: int = 0, most: float = math.inf) -> TypeGuard[int]:
    """True for an int within bounds (True and False are not numbers here).

    Examples
    --------
    >>> is_whole_number(3), is_whole_number(3.0), is_whole_number(True)
    (True, False, False)
    """
    return isinstance(value, int) and not isinstance(value, bool) and least <= value <= most
