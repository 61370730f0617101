"""The film's arithmetic: laws, closed forms found otherwise, scipy's solvers, published rates.

Amounts are compared as shares of the amount at time 0.
"""

import math

import chemicals
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants
from scipy.integrate import solve_ivp
from scipy.special import lambertw

from blendkit.evaporation import film_clock
from blendkit.evaporation import rates as film_rates
from blendkit.evaporation.film import film_amounts, film_amounts_stepped
from blendkit.foundation.errors import BadNumber

untimed = settings(deadline=None)

HOUR = 3600.0
SKIN_K = 305.15

# A fifth of oils by mass in a triglyceride, 20 g/m2: limonene, linalool, linalyl acetate,
# eugenol, caryophyllene, patchoulol. Vapour pressures at 32 °C [Pa] and molar volumes recalled;
# they only set the scene, nothing below depends on them.
MASSES = np.array([136.2, 154.3, 196.3, 164.2, 204.4, 222.4])
PRESSURES = np.array([300, 38, 25, 3, 3, 0.15])
VOLUMES = np.array([162, 179, 219, 154, 226, 225]) * 1e-6
CHI = np.array([0.4, 1.2, 0.5, 0.8, 0.4, 1.2])
MOLES = 4 / 6 / MASSES
CARRIER, CARRIER_VOLUME = 16 / 870, 950e-6
RATES = film_rates.evaporation_rate(film_rates.gas_side_coefficient(MASSES), PRESSURES, SKIN_K)
TIMES = np.linspace(0, 12 * HOUR, 49)


def solved(moles, carrier, rates_at, times, **options):
    """Shares left by scipy's BDF, on amounts as shares so that tolerances mean the same."""
    answer = solve_ivp(
        lambda _, shares: -rates_at(shares * moles) * shares / (carrier + shares @ moles),
        (0, times[-1]),
        np.ones(len(moles)),
        t_eval=times,
        **({"method": "BDF", "rtol": 1e-11, "atol": 1e-13} | options),
    )
    assert answer.success
    return answer.y.T


def time_of(moles, carrier, rates, left):
    """Moments by the balance of each constituent's loss, from the slowest one's clock."""
    slowest = np.argmin(rates)
    clock = -np.log(np.maximum(left[:, slowest], 1e-300) / moles[slowest]) / rates[slowest]
    return carrier * clock + ((moles - left) / rates).sum(axis=1)


@st.composite
def films(draw, least_carrier=0.0, decades=3):
    n = draw(st.integers(1, 8))
    number = st.floats(0, 1)
    drawn = np.array(draw(st.lists(st.tuples(number, number), min_size=n, max_size=n)))
    moles, rates = 10 ** (-5 + 2 * drawn[:, 0]), 10 ** (-4 - decades * drawn[:, 1])
    carrier = moles.sum() * draw(st.floats(least_carrier, 5))
    times = draw(st.lists(st.floats(0, 1e6), min_size=1, max_size=12))
    return moles, carrier, rates, np.array(times)


@untimed
@given(films())
def test_amounts_only_ever_fall_and_stay_above_nothing(case):
    moles, carrier, rates, times = case
    left = film_amounts(moles, carrier, rates, np.sort(times))
    assert np.all(left >= 0)
    assert np.all(left <= moles)
    assert np.all(np.diff(left, axis=0) <= 0)


@untimed
@given(films(least_carrier=0.01))
def test_losses_add_up_to_the_time_that_has_passed(case):
    moles, carrier, rates, times = case
    left = film_amounts(moles, carrier, rates, times)
    early = left.min(axis=1, initial=1, where=rates == rates.min()) > 1e-250
    found = time_of(moles, carrier, rates, left)
    # near time 0 the clock read off the slowest amount drowns in rounding
    assert found[early] == pytest.approx(times[early], rel=1e-8, abs=1e-9)


@untimed
@given(films())
def test_of_two_constituents_the_one_with_the_lower_loss_rate_lasts_longer(case):
    moles, carrier, rates, times = case
    shares = film_amounts(moles, carrier, rates, times) / moles
    assert np.all(np.diff(shares[:, np.argsort(rates)], axis=1) <= 1e-12)


@untimed
@given(films(), st.floats(1e-3, 1e3))
def test_faster_loss_is_the_same_as_faster_time(case, factor):
    moles, carrier, rates, times = case
    fast = film_amounts(moles, carrier, rates * factor, times)
    assert fast == pytest.approx(film_amounts(moles, carrier, rates, times * factor), abs=1e-12)


@untimed
@given(films(), st.randoms())
def test_neither_the_order_of_constituents_nor_that_of_times_matters(case, random):
    moles, carrier, rates, times = case
    order = random.sample(range(len(moles)), len(moles))
    times = np.concatenate([times, times[::-1], [0.0]])
    left = film_amounts(moles, carrier, rates, times)
    mixed = film_amounts(moles[order], carrier, rates[order], times)
    assert mixed == pytest.approx(left[:, order], abs=1e-9 * moles.max())
    sorted_left = film_amounts(moles, carrier, rates, np.sort(times))
    assert np.array_equal(left[np.argsort(times, kind="stable")], sorted_left)
    assert np.array_equal(left[-1], moles)


@untimed
@given(films(), st.integers(-60, 60))
def test_a_larger_film_lasts_longer_in_proportion(case, power):
    moles, carrier, rates, times = case
    factor = 10.0**power
    large = film_amounts(moles * factor, carrier * factor, rates, times * factor)
    left = film_amounts(moles, carrier, rates, times)
    assert large / moles / factor == pytest.approx(left / moles, abs=1e-9)


def test_a_pure_liquid_goes_at_a_steady_rate_until_it_is_gone():
    times = np.linspace(0, 30, 61)
    left = film_amounts([2.0], 0.0, [0.1], times)
    assert left[:, 0] == pytest.approx(np.maximum(2 - 0.1 * times, 0), abs=1e-11)
    assert np.all(left[times >= 20] == 0)


@pytest.mark.parametrize("carrier", [1e-6, 1e-3, 0.1, 1.0, 30.0])
def test_one_constituent_in_carrier_follows_the_lambert_function(carrier):
    # n_c ln(n / n_0) + n - n_0 = -K t, solved for n
    start, rate = 1.0, 0.1
    exponent = (start - rate * (times := np.linspace(0, 40, 81))) / carrier
    usable = exponent < 600
    argument = start / carrier * np.exp(exponent[usable])
    left = film_amounts([start], carrier, [rate], times)[usable, 0]
    assert left == pytest.approx(carrier * lambertw(argument).real, abs=1e-10)


def test_in_very_much_carrier_each_goes_by_its_own_exponential():
    carrier = 1e7 * MOLES.sum()
    times = carrier * np.array([0.1, 1.0, 3.0]) / RATES[2]
    expected = np.exp(-np.outer(times, RATES) / carrier)
    assert film_amounts(MOLES, carrier, RATES, times) / MOLES == pytest.approx(
        expected, abs=2e-7
    )


@pytest.mark.parametrize("carrier", [CARRIER, CARRIER / 100, 0.0])
def test_amounts_agree_with_a_stiff_solver(carrier):
    left = film_amounts(MOLES, carrier, RATES, TIMES) / MOLES
    expected = solved(MOLES, carrier, lambda _: RATES, TIMES)
    assert np.max(np.abs(left - expected)) < 1e-8


@pytest.mark.parametrize("seed", range(3))
def test_sixty_constituents_agree_with_a_stiff_solver(seed):
    random = np.random.default_rng(seed)
    moles = random.dirichlet(np.ones(60)) * 0.02
    rates = 10 ** random.uniform(-9, -4.5, 60)
    times = np.linspace(0, 12 * HOUR, 200)
    left = film_amounts(moles, 0.02, rates, times) / moles
    assert np.max(np.abs(left - solved(moles, 0.02, lambda _: rates, times))) < 1e-9


@pytest.mark.parametrize("carrier", [0.0, 1e-9, 0.5])
def test_loss_rates_may_lie_eight_decades_apart(carrier):
    moles, rates = np.array([0.2, 0.3, 0.1, 0.4]), np.array([1e2, 1e-1, 1e-3, 1e-6])
    times = np.geomspace(1e-4, 3e5, 60)
    left = film_amounts(moles, carrier, rates, times) / moles
    expected = solved(moles, carrier, lambda _: rates, np.concatenate([[0.0], times]))[1:]
    assert np.max(np.abs(left - expected)) < 2e-8


def test_what_has_no_loss_rate_acts_as_carrier():
    left = film_amounts([1.0, 2.0], 0.5, [0.1, 0.0], times := [0.0, 5.0, 50.0, 1e9])
    assert np.all(left[:, 1] == 2)
    assert left[:, 0] == pytest.approx(film_amounts([1.0], 2.5, [0.1], times)[:, 0], abs=1e-11)
    assert np.all(film_amounts([1.0, 2.0], 0.0, [0.0, 0.0], [0.0, 1e9]) == [1, 2])


def test_empty_films_and_empty_questions_have_answers():
    assert np.all(film_amounts([0.0, 0.0], 0.0, [1.0, 2.0], [0.0, 1.0]) == 0)
    assert film_amounts([0.0, 1.0], 1.0, [1.0, 2.0], [1.0])[0, 0] == 0
    assert film_amounts([1.0], 1.0, [1.0], []).shape == (0, 1)
    assert film_amounts([], 1.0, [], [0.0, 1.0]).shape == (2, 0)
    assert film_amounts([1.0], 1.0, [1.0], [0.0, 0.0]).tolist() == [[1.0], [1.0]]


@pytest.mark.parametrize("size", [1.0, 1e-9])
def test_a_dry_film_stays_dry_and_is_exact_just_before(size):
    moles = MOLES * size
    span = float((moles / RATES).sum())
    before = span * (1 - 10.0 ** -np.arange(1, 13))
    left = film_amounts(moles, 0.0, RATES, [*before, span * (1 + 1e-12), 2 * span])
    assert np.all(left[-2:] == 0)
    # so near the end only the slowest is left, and it goes like a pure liquid
    assert left[2:-2, -1] == pytest.approx(
        (span - before[2:]) * RATES[-1], abs=1e-9 * moles[-1]
    )


@pytest.mark.parametrize("carrier", [CARRIER, CARRIER / 1e4, 0.0])
def test_the_guess_is_near_and_one_correction_leaves_rounding(monkeypatch, carrier):
    film = film_clock.Films(MOLES, np.float64(carrier), RATES)
    times = TIMES[1:]

    def clock(corrections):
        monkeypatch.setattr(film_clock, "_MOST_CORRECTIONS", corrections)
        return film_clock.clock_at(film, times)

    # the time at which the clock stands so, by the closed form in the module's first lines
    gone = -np.expm1(-np.outer(clock(1), RATES))
    assert carrier * clock(1) + gone @ (MOLES / RATES) == pytest.approx(times, rel=1e-10)
    assert clock(0) == pytest.approx(clock(1), rel=1e-3)


def test_extensions_in_the_notes_hold_for_the_full_equation():
    rub, breeze = 1e-4, lambda t: 1 + 0.5 * np.sin(t / 1000)

    def slope(t, shares, rub, factor):
        loss = factor(t) * RATES / (CARRIER * np.exp(-rub * t) + shares @ MOLES)
        return -shares * (loss + rub)

    def answer(*arguments):
        options = {"method": "BDF", "rtol": 1e-10, "atol": 1e-13, "t_eval": TIMES}
        return solve_ivp(
            slope, (0, TIMES[-1]), np.ones(6), args=arguments, max_step=500, **options
        ).y.T

    rubbed = film_amounts(MOLES, CARRIER, RATES, np.expm1(rub * TIMES) / rub) / MOLES
    rubbed *= np.exp(-rub * TIMES)[:, None]
    assert np.max(np.abs(rubbed - answer(rub, lambda _: 1.0))) < 1e-7
    spent = TIMES + 500 * (1 - np.cos(TIMES / 1000))
    blown = film_amounts(MOLES, CARRIER, RATES, spent) / MOLES
    assert np.max(np.abs(blown - answer(0.0, breeze))) < 1e-7


def test_everything_wrong_with_the_numbers_is_said_at_once():
    with pytest.raises(BadNumber) as refusal:
        film_amounts([1.0, -2.0, -3.0], np.inf, [1.0, np.nan, -4.0, 2.0], [[0.0]])
    said = str(refusal.value)
    assert len(refusal.value.problems) == 5
    for words in ("moles: got -2", "moles: got shape (3,)", "n = 4", "carrier_moles: got inf"):
        assert words in said
    assert "loss_rates: got nan" in said
    assert "times: got shape (1, 1)" in said


@pytest.mark.parametrize(
    "wrong",
    [
        {"moles": "two"}, {"carrier_moles": [1.0, 2.0]}, {"carrier_moles": np.inf},
        {"moles": [np.inf]}, {"times": [np.nan]}, {"loss_rates": [-1e-9]},
    ],
)  # fmt: skip
def test_what_is_not_a_film_is_refused(wrong):
    right = {"moles": [1.0], "carrier_moles": 1.0, "loss_rates": [1.0], "times": [1.0]}
    with pytest.raises(BadNumber):
        film_amounts(**(right | wrong))


def activity(moles):
    return film_rates.flory_huggins(moles, CARRIER, VOLUMES, CARRIER_VOLUME, CHI)


def test_stepping_with_constant_loss_rates_is_the_closed_form():
    for carrier in (CARRIER, 0.0):
        stepped = film_amounts_stepped(MOLES, carrier, lambda _: RATES, TIMES[::-1])
        exact = film_amounts(MOLES, carrier, RATES, TIMES[::-1])
        assert np.max(np.abs(stepped - exact) / MOLES) < 1e-7


def test_stepping_follows_the_full_equation_and_errs_with_the_square_of_the_step():
    expected = solved(MOLES, CARRIER, lambda moles: activity(moles) * RATES, TIMES)
    errors = [
        np.max(np.abs(stepped / MOLES - expected))
        for step in ((0.2,), (0.1,), ())  # 0.05 where none is given
        for stepped in [
            film_amounts_stepped(MOLES, CARRIER, lambda n: activity(n) * RATES, TIMES, *step)
        ]
    ]
    assert errors[-1] < 2e-5
    assert errors[0] / errors[1] == pytest.approx(4, rel=0.5)
    assert errors[1] / errors[2] == pytest.approx(4, rel=0.5)


def test_stepping_follows_the_full_equation_where_nothing_stays():
    def rates(moles):
        return RATES * (1 + moles / moles.sum())  # at most twice as fast

    times = np.linspace(0, 0.4, 20) * (MOLES / RATES).sum()
    stepped = film_amounts_stepped(MOLES, 0.0, rates, times) / MOLES
    assert np.max(np.abs(stepped - solved(MOLES, 0.0, rates, times))) < 1e-3


def test_stepping_takes_what_has_no_loss_rate_for_carrier():
    rates, times = np.array([0.1, 0.0]), [0.0, 5.0, 50.0, 1e9]
    stepped = film_amounts_stepped([1.0, 2.0], 0.5, lambda _: rates, times)
    assert np.all(stepped[:, 1] == 2)
    assert stepped[:, 0] == pytest.approx(film_amounts([1.0], 2.5, [0.1], times)[:, 0])
    still = film_amounts_stepped([1.0, 2.0], 0.0, lambda _: 0 * rates, times)
    assert np.all(still == [1, 2])
    assert film_amounts_stepped([1.0, 2.0], 0.5, lambda _: rates, []).shape == (0, 2)


def test_stepping_ends_where_a_film_is_dry():
    # a pure liquid of 2 mol goes at a steady half a mole a second
    stepped = film_amounts_stepped([2.0], 0.0, lambda _: np.array([0.5]), [0, 1, 4, 9, 1e9])
    assert stepped[:, 0] == pytest.approx([2, 1.5, 0, 0, 0], abs=1e-9)


@pytest.mark.parametrize("step", [0.0, -0.05, math.inf, np.float64("inf"), math.nan])
def test_a_step_that_leads_nowhere_is_refused(step):
    with pytest.raises(BadNumber, match="step: got"):
        film_amounts_stepped(MOLES, CARRIER, lambda _: RATES, TIMES, step)


def test_equal_molecules_that_do_not_interact_are_ideal():
    gamma = film_rates.flory_huggins([1.0, 2.0], 3.0, [2e-4, 2e-4], 2e-4, [0.0, 0.0])
    assert gamma == pytest.approx([1, 1])


@untimed
@given(st.floats(0.05, 0.95), st.floats(0.1, 10), st.floats(0, 2))
def test_two_components_obey_gibbs_and_duhem(share, size, chi):
    # the carrier's own coefficient by the same theory, its chi per its own volume
    def both(x):
        solute = film_rates.flory_huggins([x], 1 - x, [1.0], size, [chi])[0]
        carrier = film_rates.flory_huggins([1 - x], x, [size], 1.0, [chi * size])[0]
        return np.log([solute, carrier])

    slope = (both(share + 1e-5) - both(share - 1e-5)) / 2e-5
    assert share * slope[0] + (1 - share) * slope[1] == pytest.approx(0, abs=1e-5)


@untimed
@given(st.floats(0.1, 20), st.floats(0.05, 1))
def test_interaction_gives_back_the_dilute_coefficient(gamma, size):
    chi = film_rates.interaction_from_dilute([gamma], [size], 1.0)
    dilute = film_rates.flory_huggins([0.0], 1.0, [size], 1.0, chi)
    assert dilute == pytest.approx([gamma])


# Rates of evaporation against n-butyl acetate in the relative evaporation rate test, as a
# solvent supplier's table gives them (read, marked approximate there); 3.8 and 5.6 of the same
# table for methyl ethyl ketone and acetone are left out: such fast liquids cool themselves.
RELATIVE_RATES = {
    "108-10-1": 1.6,  # 4-methyl-2-pentanone
    "108-38-3": 0.7,  # m-xylene
    "108-94-1": 0.3,  # cyclohexanone
}


@pytest.mark.parametrize("cas", RELATIVE_RATES)
def test_mass_evaporates_as_fast_as_published_against_butyl_acetate(cas):
    def mass_rate(cas):
        row = chemicals.vapor_pressure.Psat_data_Perrys2_8.loc[cas]
        pressure = chemicals.dippr.EQ101(298.15, *row[["C1", "C2", "C3", "C4", "C5"]])
        mass = chemicals.MW(cas)
        coefficient = film_rates.gas_side_coefficient(mass)
        return mass * film_rates.evaporation_rate(coefficient, pressure, 298.15)

    assert mass_rate(cas) / mass_rate("123-86-4") == pytest.approx(RELATIVE_RATES[cas], rel=0.2)


# Heat lost by convection from a seated body in still air [W/m2/K], at 26 and at 20 °C: J.
# Ergonomics 2014, convective heat transfer coefficients under forced convection from ceiling
# (read in the abstract). Turned into mass transfer by Chilton and Colburn's analogy.
@pytest.mark.parametrize("heat", [2.874, 4.088])
def test_the_indoor_coefficient_is_near_that_of_body_heat(heat):
    schmidt, prandtl, heat_capacity = 1.6e-5 / 6.15e-6, 0.71, 1164.0
    from_heat = heat / heat_capacity * (schmidt / prandtl) ** (-2 / 3)
    assert 1 / 1.6 < film_rates.gas_side_coefficient(154.25) / from_heat < 1.6


def test_the_coefficient_agrees_with_the_offsite_guidance_it_takes_its_form_from():
    # QR [lb/min] = 0.284 u**0.78 M**(2/3) A P / (82.05 T); A [ft2], P [mmHg] (US EPA, 1999)
    # at the speed of indoor air, where the two exponents of the speed meet
    mass, speed, pressure = 150.0, 0.2, 100.0
    pounds = 0.284 * speed**0.78 * mass ** (2 / 3) * (pressure / 133.322) / (82.05 * SKIN_K)
    per_m2 = pounds * 0.45359237 / 60 / (constants.foot**2) / (mass / 1000)
    coefficient = film_rates.gas_side_coefficient(mass, speed)
    ours = film_rates.evaporation_rate(coefficient, pressure, SKIN_K)
    assert ours == pytest.approx(per_m2, rel=0.1)


def test_skin_takes_up_as_much_as_published_within_the_stated_factor():
    # largest flux of neat benzyl acetate through human skin: 0.1 mg/cm2/h (Food Chem. Toxicol.
    # 1994); linalool absorbed from an open film: 1.84 and 4.08 % of the dose (int. abstract);
    # benzene on a forearm: 0.07 % (Food Chem. Toxicol. 2008); log Kow recalled from Hansch
    benzyl_acetate = film_rates.skin_uptake_rate(1.96, 150.2) * 150.2 * 1000 / 1e4 * HOUR
    assert 1 / 6 < benzyl_acetate / 0.1 < 6
    for kow, mass, pressure, read in [
        (2.97, 154.25, 38.0, 0.0274),
        (2.13, 78.1, 17000.0, 7e-4),
    ]:
        lost = film_rates.evaporation_rate(
            film_rates.gas_side_coefficient(mass), pressure, SKIN_K
        )
        taken = film_rates.skin_uptake_rate(kow, mass)
        assert 1 / 6 < taken / (taken + lost) / read < 6
