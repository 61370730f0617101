"""The door for units: what it lets in as plain numbers, and what it refuses in words."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from pathlib import Path

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

import blendkit
from blendkit.foundation.errors import BadNumber
from blendkit.foundation.units import counted, registry, show, to_si

PACKAGE_PARENT = Path(blendkit.__file__).parent.parent


# --- what comes in ------------------------------------------------------------------------

# All factors are exact by the definitions of the litre, gram, inch and degree Celsius
# (Source: SI Brochure, 9th ed., 2019; the inch is 25.4 mm since 1959)
LET_IN = [
    ("10 mL", "m**3", 10e-6),
    ("10 ml", "m**3", 10e-6),
    ("10mL", "m**3", 10e-6),
    ("  10   mL  ", "m**3", 10e-6),
    ("1 cl", "m**3", 10e-6),
    ("0.01 L", "m**3", 10e-6),
    ("10 cm**3", "m**3", 10e-6),
    ("10 millilitre", "m**3", 10e-6),
    ("1e-2 L", "m**3", 10e-6),
    (".5 mL", "m**3", 0.5e-6),
    ("0,5 mL", "m**3", 0.5e-6),
    ("7,25 mL", "m**3", 7.25e-6),
    ("+10 mL", "m**3", 10e-6),
    ("20 %", "dimensionless", 0.2),
    ("20%", "dimensionless", 0.2),
    ("12,5 %", "dimensionless", 0.125),
    ("20 percent", "dimensionless", 0.2),
    ("660 mg", "kg", 660e-6),
    ("0.66 g", "kg", 660e-6),
    ("32 degC", "K", 305.15),
    ("32 °C", "K", 305.15),
    ("-5 °C", "K", 268.15),
    ("305.15 K", "K", 305.15),
    ("3 mm", "m", 0.003),
    ("0.5 inch", "m", 0.0127),
    ("0.88 g/mL", "kg/m**3", 880.0),
    ("880 kg/m**3", "kg/m**3", 880.0),
    ("28 mN/m", "N/m", 0.028),
    ("20 g/m**2", "kg/m**2", 0.02),
    ("20 g/m²", "kg/m**2", 0.02),
    ("20 cm/s", "m/s", 0.2),
]


@pytest.mark.parametrize(("text", "unit", "expected"), LET_IN)
def test_text_with_a_unit(text, unit, expected):
    assert to_si(text, unit, name="it") == pytest.approx(expected, rel=1e-12)


def test_a_pint_quantity():
    assert to_si(registry().Quantity(10, "mL"), "m**3", name="bottle") == pytest.approx(1e-5)
    assert to_si(registry().Quantity(32, "degC"), "K", name="skin") == pytest.approx(305.15)
    application = pint.get_application_registry()
    assert to_si(application("0.66 g"), "kg", name="mass") == pytest.approx(0.66e-3)


@given(st.floats(1e-3, 1e4))
def test_the_decimal_sign_may_be_a_comma(number):
    # Two decimals, because three after a comma may be thousands and are refused
    point, comma = f"{number:.2f} mL", f"{number:.2f} mL".replace(".", ",")
    assert to_si(comma, "m**3", name="bottle") == to_si(point, "m**3", name="bottle")


@given(st.floats(1e-3, 1e3))
def test_millilitres_and_litres_agree(number):
    in_ml = to_si(f"{number} mL", "m**3", name="bottle")
    in_litres = to_si(f"{number / 1000} L", "m**3", name="bottle")
    assert in_ml == pytest.approx(in_litres, rel=1e-11)
    assert in_ml == pytest.approx(number * 1e-6, rel=1e-11)


# --- what is refused, and in which words --------------------------------------------------


@pytest.mark.parametrize(
    "value", [10, 10.5, 0, True, False, None, "10", "0.2", "-3", "10,", []]
)
def test_a_bare_number_is_never_guessed(value):
    with pytest.raises(
        BadNumber, match=r'bottle: got .*; needs a volume with its unit, such as "10 mL"'
    ):
        to_si(value, "m**3", name="bottle")
    with pytest.raises(BadNumber, match=r"strength: got .*; needs a share with its unit"):
        to_si(value, "dimensionless", name="strength")


@pytest.mark.parametrize(
    ("text", "unit", "word"),
    [
        ("10 g", "m**3", "a mass"),
        ("10 mm", "m**3", "a length"),
        ("10 %", "m**3", "a plain share or number"),
        ("10 °C", "m**3", "a temperature"),
        ("10 hours", "m**3", "a time"),
        ("1 g/mL", "m**3", "a density"),
        ("10 mL mL", "m**3", "of the kind"),
        ("10 mL", "kg", "a volume"),
        ("20 mL", "dimensionless", "a volume"),
        ("20 °C", "dimensionless", "a temperature"),
        ("20 %", "K", "a plain share or number"),
        ("32 C", "K", "of the kind"),
    ],
)
def test_a_unit_of_another_kind_says_which_kind_it_is(text, unit, word):
    with pytest.raises(BadNumber) as caught:
        to_si(text, unit, name="it")
    message = str(caught.value)
    assert f'it: got "{text}", which is {word}' in message
    assert "with its unit, such as" in message


@pytest.mark.parametrize("text", ["5 dB*mL", "5 mL*dBm/mW", "12.5 dB*h", "5 degC*dB"])
@pytest.mark.parametrize("unit", ["m**3", "s", "dimensionless"])
def test_a_level_times_something_else_is_no_unit(text, unit):
    with pytest.raises(BadNumber, match="is unknown"):
        to_si(text, unit, name="it")


@pytest.mark.parametrize("text", ["1,000 mL", "12,345 mL", "-1,000 mL", "100,000 mL"])
def test_a_thousands_comma_is_asked_about(text):
    with pytest.raises(
        BadNumber, match="Is the comma a decimal sign or does it separate thousands"
    ):
        to_si(text, "m**3", name="bottle")


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "mL",
        "ten mL",
        "about 10 mL",
        "10 mL or so",
        "10 bottles",
        "--10 mL",
        "1.5.2 mL",
        "1,000.5 mL",
        "1.000,5 mL",
        "1 000 mL",
        "10 - 20 mL",
        "nan mL",
        "inf mL",
        "1e999 mL",
        "10 mL; 5 mL",
        "10 💧",
        "10 мл",
    ],
)
def test_text_that_is_no_quantity(text):
    with pytest.raises(BadNumber, match=r"bottle: got "):
        to_si(text, "m**3", name="bottle")


@pytest.mark.parametrize(
    "text", ["10 degree", "0.2 rad", "-5 dB", "1 bit", "1 count", "2 neper"]
)
def test_an_angle_or_a_level_is_no_share(text):
    # To a unit library they are all pure numbers; as a perfume's strength they are slips
    with pytest.raises(BadNumber, match=r"strength: got "):
        to_si(text, "dimensionless", name="strength")


@pytest.mark.parametrize("magnitude", [math.nan, math.inf, -math.inf])
def test_a_quantity_that_is_not_finite(magnitude):
    with pytest.raises(BadNumber, match="finite"):
        to_si(registry().Quantity(magnitude, "mL"), "m**3", name="bottle")


def test_several_numbers_in_one_quantity():
    with pytest.raises(BadNumber, match="bottle"):
        to_si(registry().Quantity([1.0, 2.0], "mL"), "m**3", name="bottle")


@given(st.text(max_size=60))
def test_any_text_gives_a_number_or_words(text):
    try:
        number = to_si(text, "m**3", name="bottle")
    except BadNumber:
        return
    assert math.isfinite(number)


@given(st.from_regex(r"[0-9]{1,3}[ ]?[a-zA-Zµ°%/*^()]{1,12}", fullmatch=True))
def test_anything_that_looks_like_a_quantity_gives_a_number_or_words(text):
    for unit in ("m**3", "dimensionless", "K"):
        try:
            number = to_si(text, unit, name="it")
        except BadNumber:
            continue
        assert math.isfinite(number)


# --- very long and hostile text -----------------------------------------------------------

ANSWER = """
import sys
from blendkit.foundation.errors import BadNumber
from blendkit.foundation.units import to_si
try:
    to_si(sys.stdin.read(), "m**3", name="bottle")
except BadNumber as error:
    print("refused", len(str(error)))
"""


@pytest.mark.parametrize(
    "text",
    [
        "9**9**9 mL",
        "1 9**9**9 mL",
        "1 mL*9**9**9",
        "1 mL**9**9**9",
        "1 m^9^9^9",
        "1 (m**9)**9**9",
        "1 m**1e300",
        "1 ((((((((((((((((((((((((((((",
        "1 __import__('os').getcwd()",
        "9" * 100_000,
        "9" * 100_000 + " mL",
        "1," * 50_000 + " mL",
        "1 " + "m*" * 50_000 + "m",
        "10 mL " * 20_000,
    ],
    ids=lambda text: text[:30],
)
def test_hostile_text_is_refused_at_once_and_briefly(text):
    # In an interpreter of its own, so that a calculation that never ends can be stopped. The
    # limit leaves room for a slow start; the answer itself takes no time worth measuring.
    answer = subprocess.run(
        [sys.executable, "-c", ANSWER],
        input=text,
        capture_output=True,
        text=True,
        timeout=30,
        check=False,
        env={**os.environ, "PYTHONPATH": str(PACKAGE_PARENT), "PYTHONIOENCODING": "utf-8"},
    )
    assert answer.stdout.startswith("refused"), answer.stderr[-500:]
    assert int(answer.stdout.split()[1]) < 400


# --- what goes out ------------------------------------------------------------------------


@given(st.floats(1e-9, 1e9), st.integers(1, 6))
def test_shown_numbers_keep_their_digits_and_have_no_exponent(number, digits):
    text = show(number, digits)
    assert "e" not in text.lower()
    half_a_step = 0.5 * 10.0 ** (math.floor(math.log10(number)) + 1 - digits)
    assert float(text) == pytest.approx(number, abs=half_a_step * (1 + 1e-9))


@given(st.floats(1e-9, 1e9))
def test_shown_numbers_end_in_no_empty_decimals(number):
    text = show(number)
    assert not text.endswith(".")
    assert "." not in text or not text.endswith("0")


def test_counts_with_their_noun():
    assert [counted(count, "drop") for count in (0, 1, 2)] == ["0 drops", "1 drop", "2 drops"]
