"""The fade: its laws, its table, its band, and what oils become as they evaporate."""

from __future__ import annotations

import math
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from blendkit import example_document
from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.evaporate import evaporate_to
from blendkit.evaporation.fading import fade, hours_until, table_of
from blendkit.evaporation.film import film_amounts
from blendkit.evaporation.forecast import DRAWS, QUANTILES, SEED, Forecast, forecast
from blendkit.evaporation.perception import VAPOUR, WAYS, plain_strengths
from blendkit.evaporation.uncertainty import Clock, Uncertainty, drawn, volatility_class
from blendkit.evaporation.wear import film_of, film_of_masses
from blendkit.foundation.errors import BadNumber, UnknownMaterial

# the same films in every run: drawn anew each time, one run in three found a film that breaks
# its bound by some percent, in thick films and where a curve is flat; that is not mended
few = settings(deadline=None, max_examples=12, derandomize=True)
INVENTED = Blend.from_dict(example_document())
FILM = film_of(INVENTED.bottle, Conditions())
FOUND = forecast(FILM, hours_until(24), 64)
LIMONENE, PATCHOULOL = "5989-27-5", "5986-55-0"
COLUMNS = [
    "hours", "group", "kind", "remaining_fraction", "strength", "strength_low",
    "strength_high", "strength_lowest", "strength_highest",
]  # fmt: skip
OILS = ["lemon", "peppermint", "lavender", "geranium", "clove-bud", "vetiver", "oud"]


@st.composite
def films(draw):
    chosen = draw(st.lists(st.sampled_from(OILS), min_size=1, max_size=4, unique=True))
    oils = {name: draw(st.floats(0.5, 10)) for name in chosen}
    carrier = draw(st.sampled_from(["jojoba", "mct-fractionated-coconut", "squalane"]))
    carriers = {carrier: draw(st.floats(1, 100))}
    conditions = Conditions(
        draw(st.floats(290, 310)), draw(st.floats(0.005, 0.1)), draw(st.floats(0.1, 2))
    )
    return film_of_masses(oils, carriers, {}, conditions)


# --- the table ----------------------------------------------------------------------------


def test_the_table_is_what_was_agreed():
    table = fade(INVENTED, 8, draws=32)
    assert list(table.columns) == COLUMNS
    assert set(table["kind"]) == {"note", "oil", "whole"}
    groups = set(table.query("kind == 'oil'")["group"])
    assert groups == set(INVENTED.oil_drops)
    assert table["hours"].max() == 8
    assert {1.0, 4.0, 8.0} <= set(table["hours"])
    assert not table.isna().any().any()


def test_everything_starts_whole():
    start = fade(INVENTED, 1, draws=32).query("hours == 0")
    np.testing.assert_allclose(start.drop(columns=["hours", "group", "kind"]), 1)


def test_the_very_hours_asked_for_come_back():
    table = fade(INVENTED, [8, 1, 4], draws=32)
    assert sorted(set(table["hours"])) == [0, 1, 4, 8]


@pytest.mark.parametrize("hours", [0, -1, 100, math.nan, math.inf, [], "noon", [1, -2]])
def test_hours_that_mean_nothing_are_refused(hours):
    with pytest.raises(BadNumber, match="hours"):
        fade(INVENTED, hours)


def test_other_misfits_are_refused():
    with pytest.raises(BadNumber, match="draws"):
        fade(INVENTED, draws=1)
    with pytest.raises(BadNumber, match="constant or stepped"):
        fade(INVENTED, activity="none")
    with pytest.raises(BadNumber, match="has no unit"):
        fade(INVENTED, film=20)


def test_the_same_seed_says_the_same():
    one, other = (table_of(forecast(FILM, [1, 4], 64)) for _ in range(2))
    assert one.equals(other)
    assert not one.equals(table_of(forecast(FILM, [1, 4], 64, seed=2)))


# --- laws ---------------------------------------------------------------------------------


@few
@given(films())
def test_what_is_left_only_falls_and_stays_between_none_and_all(film):
    found = forecast(film, hours_until(12), 8)
    assert np.all(np.diff(found.remaining, axis=1) <= 1e-9)
    assert np.all((found.remaining >= 0) & (found.remaining <= 1 + 1e-9))


@few
@given(films())
def test_what_is_left_of_the_whole_is_what_is_left_of_its_oils(film):
    found = forecast(film, [0.5, 2, 8], 8)
    masses = film.share_of_oil @ (film.moles * film.molar_masses)
    of_oils = masses @ found.remaining[found.rows("oil")]
    np.testing.assert_allclose(of_oils / masses.sum(), found.remaining[-1], atol=1e-8)


@few
@given(films())
def test_the_band_holds_the_curve_and_is_ordered(film):
    found = forecast(film, [0.25, 1, 4, 12], 32)
    lowest, low, high, highest = found.band()
    for less, more in (
        (lowest, low),
        (low, found.strength),
        (found.strength, high),
        (high, highest),
    ):
        assert np.all(less <= more + 1e-12)


@few
@given(films(), st.sampled_from(["skin", "blotter"]))
def test_each_draw_is_a_film_of_its_own(film, surface):
    film = replace(film, carrier_moles=film.carrier_moles if surface == "skin" else 0.0)
    found = forecast(film, hours_until(24), 16)
    sure = drawn(film, 16, SEED, Uncertainty(), None)
    for draw in (3, 11):
        left = film_amounts(
            film.moles, film.carrier_moles, sure.loss_rates[draw], found.hours * 3600
        )
        moles = left.sum(axis=1) + film.carrier_moles
        wet = moles > 1e-3 * moles[0]
        half = film.curves.half_kg_per_m3 * film.dose / sure.dose[draw]
        mine = replace(film, curves=film.curves._replace(half_kg_per_m3=half))
        strengths = plain_strengths(mine, left[wet], film.activity)
        theirs = np.exp(found.log_draws[found.rows("oil"), :, draw - 1][:, wet])
        # between nodes a chord passes over where one molecule takes over from another: a thick
        # film in a draught has shown 1.02 % in the mean
        np.testing.assert_allclose(theirs, strengths, rtol=0.15, atol=0.4)
        assert np.mean(np.abs(np.log(theirs / strengths))[strengths > 1.4]) < 0.02


@few
@given(films(), st.floats(1.5, 4))
def test_a_thicker_film_and_slower_clock_stretch_time_alike(film, factor):
    given_ = film.conditions
    oils = dict(
        zip(film.oils, film.share_of_oil @ (film.moles * film.molar_masses), strict=True)
    )
    slower, thicker = (
        film_of_masses(
            oils,
            {"jojoba": 0.05},
            {},
            Conditions(given_.temperature_k, load, given_.air_speed_m_per_s, "skin", clock),
        )
        for load, clock in ((0.02, factor), (0.02 * factor, 1.0))
    )
    hours = [0.5, 1, 4]
    plain = film_of_masses(oils, {"jojoba": 0.05}, {}, Conditions(
        given_.temperature_k, 0.02, given_.air_speed_m_per_s))  # fmt: skip
    usual = forecast(plain, np.array(hours) / factor, 2)
    for other in (slower, thicker):
        moved = forecast(other, hours, 2)
        np.testing.assert_allclose(moved.remaining, usual.remaining, atol=1e-7)
        np.testing.assert_allclose(moved.strength, usual.strength, atol=1e-3)


@pytest.mark.parametrize("way", WAYS)
def test_a_note_is_its_strongest_oil_and_the_whole_its_strongest_note(way):
    found = forecast(FILM, hours_until(24), 64, way=way)
    for rows in (found.levels, found.log_draws):
        of_oils, of_notes = rows[found.rows("oil")], rows[found.rows("note")]
        for note in ("top", "middle", "base"):
            mine = np.array([of == note for of in FILM.notes])
            np.testing.assert_array_equal(rows[found.place(note)], of_oils[mine].max(axis=0))
        np.testing.assert_array_equal(rows[-1], of_notes.max(axis=0))


def solved(hours):
    """Mole fractions by scipy's BDF on the same film."""
    answer = solve_ivp(
        lambda _, n: -FILM.loss_rates * n / (FILM.carrier_moles + n.sum()),
        (0, 8 * 3600), FILM.moles, "BDF", hours * 3600, rtol=1e-10, atol=1e-16,
    )  # fmt: skip
    left = np.maximum(answer.y.T, 1e-25)
    return left / (left.sum(axis=1) + FILM.carrier_moles)[:, None]


def test_strength_by_vapour_against_a_general_solver():
    # scipy's BDF on the same film; vapour and its power worked out here from scratch
    hours = np.array([0.0, 0.5, 1, 4, 8])
    first = FILM.oils[list(FILM.notes).index("base")]
    weights = FILM.share_of_oil[FILM.oils.index(first)]
    vapour = solved(hours) @ (weights * FILM.activity * FILM.vapour_pressures_pa)
    found = forecast(FILM, hours, 8, way=VAPOUR)
    np.testing.assert_allclose(
        found.strength[found.place(first)], (vapour / vapour[0]) ** 0.35, rtol=1e-5
    )


def test_strength_by_smell_against_a_general_solver():
    # the same; concentrations at the wrist, a tenth, and the printed form of the curves
    hours = np.array([0.0, 0.5, 1, 4, 8])
    micrograms_per_litre = (
        solved(hours) * FILM.activity * FILM.vapour_pressures_pa * FILM.molar_masses
        / (8.314462618 * 305.15) * 1e6 * 0.1
    )  # fmt: skip
    curves = FILM.curves
    middle, width = np.log10(curves.half_kg_per_m3 * 1e6), 1 / (curves.power * math.log(10))
    found = forecast(FILM, hours, 8)
    for oil, share in zip(FILM.oils, FILM.share_of_oil, strict=True):
        here = share > 0
        logs = np.log10((micrograms_per_litre * share)[:, here])
        strengths = curves.greatest[here] / (1 + np.exp(-(logs - middle[here]) / width[here]))
        np.testing.assert_allclose(
            found.levels[found.place(oil)], strengths.max(axis=1), rtol=1e-5
        )


def test_notes_fade_in_their_order():
    for hour in (1, 4, 8):
        at = int(np.abs(FOUND.hours - hour).argmin())
        top, middle, base = FOUND.remaining[FOUND.rows("note"), at]
        assert top < middle < base


def test_a_heavy_note_first_rises_as_light_ones_leave():
    assert FOUND.strength[FOUND.place("base")].max() > 1


@pytest.mark.parametrize(
    ("slower", "faster"),
    [
        ({"skin_temperature": "30 degC"}, {"skin_temperature": "34 degC"}),
        ({"air_speed": "0.1 m/s"}, {"air_speed": "1 m/s"}),
        ({"film": "40 g/m**2"}, {"film": "10 g/m**2"}),
    ],
)
def test_warmth_breeze_and_a_thin_film_fade_faster(slower, faster):
    left = [
        fade(INVENTED, [2], draws=8, **given).query("hours == 2")["remaining_fraction"]
        for given in (slower, faster)
    ]
    assert (left[0].to_numpy() > left[1].to_numpy()).all()


def test_a_bare_blotter_dries_up_without_a_warning():
    film = film_of_masses({"lemon": 1}, {}, {}, Conditions.read(surface="blotter"))
    found = forecast(film, [1, 24, 72], 16)
    assert np.isfinite(found.strength).all()
    assert found.remaining[-1, -1] < 0.2


def test_stepped_activity_moves_the_curve_a_little_and_the_band_with_it():
    one, other = (
        forecast(FILM, [0.5, 1, 4, 8], 32, activity=kind) for kind in ("constant", "stepped")
    )
    # A curve of smell near its threshold goes with the vapour itself, so what holding one
    # coefficient costs in vapour is not damped: patchouli's start is a seventh off
    assert 0 < np.max(np.abs(np.log(one.levels / other.levels))) < 0.16
    ends = other.band()
    assert np.all(ends[1] <= other.strength + 1e-12)
    assert np.all(ends[2] >= other.strength - 1e-12)


# --- figures by hand ----------------------------------------------------------------------


def test_groups_come_in_order():
    assert FOUND.groups == ("top", "middle", "base", *FILM.oils, "whole")
    assert FOUND.kinds == ("note",) * 3 + ("oil",) * len(FILM.oils) + ("whole",)


def test_the_ends_of_the_band_are_quantiles_of_the_draws():
    # five curves that all start at 4 and then stand at other heights; strength is their root
    heights = np.array([1.0, 3.24, 0.36, 1.96, 0.04])
    draws = np.stack([np.full(5, 4.0), heights])[None]
    found = Forecast(
        FILM, np.array([0.0, 1]), ("whole",), ("whole",), np.ones((1, 2)),
        np.array([[2.0, 1]]), np.log(draws) / 2,
    )  # fmt: skip
    # of 0.1, 0.3, 0.5, 0.7, 0.9 of the start: a twentieth of the way up four steps is a fifth
    # of the first, a sixth is two thirds of the first
    ends = [0.1 + 0.2 / 5, 0.1 + 0.2 * 2 / 3, 0.7 + 0.2 / 3, 0.9 - 0.2 / 5]
    np.testing.assert_allclose(found.band()[:, 0, 1], ends)
    np.testing.assert_allclose(found.band()[:, 0, 0], 1)
    assert found.strength.tolist() == [[1, 0.5]]
    np.testing.assert_allclose(found.strength_draws()[0, 1], np.sqrt(heights / 4))
    # a curve outside its own draws still lies in its band
    for height, low, high in ((0.0004, 0, 2), (6.25, 2, 4)):
        outside = replace(found, levels=np.array([[2.0, height**0.5]])).band()[:, 0, 1]
        assert outside[low:high] == pytest.approx([math.sqrt(height) / 2] * 2)


@pytest.mark.parametrize(
    ("last", "minutes"),
    [
        (0.25, [0, 2, 4, 7, 10, 15]),
        (1.3, [0, 2, 4, 7, 10, 15, 20, 25, 30, 37.5, 45, 52.5, 60, 75, 78]),
        (1.5, [0, 2, 4, 7, 10, 15, 20, 25, 30, 37.5, 45, 52.5, 60, 75, 90]),
    ],
)
def test_the_grid_is_close_at_first_and_ends_at_the_last_hour(last, minutes):
    np.testing.assert_allclose(hours_until(last) * 60, minutes, atol=1e-9)


def test_hours_start_at_none_once():
    for hours, got in (([], [0]), ([0, 1], [0, 1]), ([1, 2], [0, 1, 2])):
        assert forecast(FILM, hours, 2).hours.tolist() == got


def test_the_longest_day_is_taken_and_no_longer_one():
    assert fade(INVENTED, [72], draws=2)["hours"].max() == 72
    assert fade(INVENTED, draws=2)["hours"].max() == 12  # a day of wear, where none is asked
    assert fade(INVENTED, 0.01, draws=2)["hours"].tolist()[-1] == 0.01
    for hours in (72.5, [1, 73]):
        with pytest.raises(BadNumber, match="at most 72"):
            fade(INVENTED, hours)


def test_the_table_is_the_forecast_row_by_row():
    found = forecast(FILM, [1, 4], 16)
    table = table_of(found).set_index(["group", "hours"])
    assert len(table) == len(found.groups) * 3
    row, ends = found.place("middle"), found.band()
    at = table.loc[("middle", 4.0)]
    assert at["kind"] == "note"
    names = ("lowest", "low", "high", "highest")
    for end, name in zip(ends, names, strict=True):
        assert at[f"strength_{name}"] == end[row, 2]
    assert (at["strength"], at["remaining_fraction"]) == (
        found.strength[row, 2], found.remaining[row, 2],
    )  # fmt: skip


def test_stepped_activity_moves_vapour_to_its_power_by_a_fiftieth():
    one, other = (
        forecast(FILM, [0.5, 1, 4, 8], 8, activity=kind, way=VAPOUR)
        for kind in ("constant", "stepped")
    )
    assert 0 < np.max(np.abs(one.strength - other.strength)) < 0.02


def test_stepped_activity_carries_each_draw_along_with_the_curve():
    one, other = (
        forecast(FILM, [0.5, 4], 8, activity=kind) for kind in ("constant", "stepped")
    )
    expected = one.log_draws + np.log(other.levels / one.levels)[..., None]
    np.testing.assert_allclose(other.log_draws, expected, atol=1e-4)


def test_stepped_activity_against_a_general_solver():
    # scipy's solver on the film whose activities follow what is left of it
    hours = np.array([0, 0.5, 2])
    answer = solve_ivp(
        lambda _, n: -FILM.loss_rates_at(n) * n / (FILM.carrier_moles + n.sum()),
        (0, 2 * 3600), FILM.moles, "BDF", hours * 3600, rtol=1e-7, atol=1e-12,
    )  # fmt: skip
    left = answer.y.T
    found = forecast(FILM, hours, 2, activity="stepped", way=VAPOUR)
    over = FILM.activity_at(left) * FILM.vapour_pressures_pa * left
    over = over / (left.sum(axis=1) + FILM.carrier_moles)[:, None]
    of_oils = FILM.share_of_oil @ over.T
    strength = (of_oils / of_oils[:, :1]) ** 0.35
    np.testing.assert_allclose(found.strength[found.rows("oil")], strength, atol=0.01)
    slow = forecast(FILM, hours * 2, 2, activity="stepped", way=VAPOUR, clock=Clock(2.0, 1.0))
    np.testing.assert_allclose(slow.remaining, found.remaining, atol=2e-3)


# --- the band -----------------------------------------------------------------------------


def test_without_uncertainty_there_is_no_band():
    none = Uncertainty(air=1, load=1, uptake=1, temperature_k=0)
    clocked = drawn(FILM, 16, 1, none, Clock(1.0, 1.0))
    plain = drawn(FILM, 16, 1, none, None)
    np.testing.assert_allclose(clocked.loss_rates, plain.loss_rates)
    np.testing.assert_allclose(plain.loss_rates[0], FILM.loss_rates)
    np.testing.assert_allclose(plain.vapour[0], FILM.activity * FILM.vapour_pressures_pa)
    np.testing.assert_allclose(plain.dose[0], FILM.dose)
    assert plain.exponent[0] == 1


def test_common_errors_move_all_molecules_alike():
    shared = Uncertainty(uptake=1, temperature_k=0)
    wide = drawn(FILM, 32, 1, shared, None).loss_rates
    still = drawn(FILM, 32, 1, Uncertainty(1, 1, 1, 0), None).loss_rates
    light = np.flatnonzero(FILM.evaporated_share() > 0.9999)
    ratio = (wide / still)[:, light]
    np.testing.assert_allclose(ratio, np.broadcast_to(ratio[:, :1], ratio.shape), rtol=1e-3)
    assert np.std(np.log(ratio[1:, 0])) == pytest.approx(
        math.hypot(math.log(2.2), math.log(1.8)), rel=0.15
    )


def test_spread_of_a_vapour_pressure_follows_its_grade():
    rates = drawn(FILM, 512, 1, Uncertainty(1, 1, 1, 0), None).loss_rates
    expected = np.hypot(
        np.log([each.uncertainty_factor for each in FILM.molecules]),
        np.log(FILM.activity_spread),
    )
    evaporating = FILM.evaporated_share() > 0.999
    got = np.std(np.log(rates[1:]), axis=0)
    np.testing.assert_allclose(got[evaporating], expected[evaporating], rtol=0.12)


def test_a_learnt_clock_moves_and_narrows_the_band():
    plain = forecast(FILM, [1, 4], 128)
    learnt = forecast(FILM, [1, 4], 128, clock=Clock(2.0, 1.3, events=5))
    slower = forecast(FILM, np.array([1, 4]) / 2, 128)
    np.testing.assert_allclose(learnt.strength, slower.strength, rtol=1e-3, atol=1e-4)
    top = learnt.place("top")
    width = [np.log(each.band()[2, top] / each.band()[1, top])[2] for each in (plain, learnt)]
    assert width[1] < 0.9 * width[0]


def test_a_class_factor_slows_its_molecules_alone():
    clock = Clock(1.0, 1.0, {"light": (2.0, 1.0)})
    rates = drawn(FILM, 4, 1, Uncertainty(1, 1, 1, 0), clock).loss_rates
    slower = FILM.loss_rates / rates[0]
    for molecule, factor in zip(FILM.molecules, slower, strict=True):
        is_light = volatility_class(molecule.vapour_pressure_pa) == "light"
        assert factor == pytest.approx(2 if is_light else 1)


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("way", WAYS)
def test_as_many_of_more_draws_lie_beyond_the_band_as_should(way, seed):
    # Shares of draws, not strengths: where one molecule takes over from another, strengths a
    # tenth apart are as likely, and the ends of a band jump with the seed
    few, many = (
        forecast(FILM, [1, 4], draws, way=way, seed=seed) for draws in (DRAWS, 4 * DRAWS)
    )
    ends = np.quantile(few.strength_draws(), QUANTILES, axis=-1)
    below = (many.strength_draws() < ends[..., None]).mean(axis=-1)[..., 1:]
    away = np.abs(below - np.array(QUANTILES)[:, None, None])
    assert away.max() < 0.025  # 512 draws by chance alone: 0.016, 2 in 3 inside


# --- evaporating to a share ---------------------------------------------------------------


def test_what_is_left_sums_to_a_hundred_and_light_ones_go():
    table = evaporate_to({"lemon": 60, "patchouli": 40}, remaining=[1, 0.5, 0.1])
    np.testing.assert_allclose(table.sum(), 100)
    assert list(table.columns) == [1, 0.5, 0.1]
    assert (np.diff(table.loc[LIMONENE]) < 0).all()
    assert (np.diff(table.loc[PATCHOULOL]) > 0).all()


def test_evaporation_against_a_general_solver():
    # the same film in time, stopped by scipy when half of the volatile mass has left
    film = film_of_masses(
        {"lavender": 20}, {"jojoba": 80}, {}, Conditions.read("25 degC", surface="blotter")
    )
    masses = film.molar_masses

    def half(_, n):
        return n @ masses - 0.5 * film.moles @ masses

    half.terminal = True
    answer = solve_ivp(
        lambda _, n: -film.loss_rates * n / (film.carrier_moles + n.sum()),
        (0, 1e6), film.moles, "LSODA", events=half, rtol=1e-9, atol=1e-16,
    )  # fmt: skip
    left = answer.y_events[0][0] * masses
    expected = dict(zip([m.id for m in film.molecules], 100 * left / left.sum(), strict=True))
    table = evaporate_to({"lavender": 20}, "jojoba", [0.5])
    for name, percent in table[0.5].items():
        assert percent == pytest.approx(expected[name], abs=1e-5)


@few
@given(st.floats(1e-6, 1))
def test_any_share_can_be_reached(share):
    table = evaporate_to({"peppermint": 50, "vetiver": 50}, remaining=[share])
    assert table.iloc[:, 0].sum() == pytest.approx(100)
    assert (table >= 0).all().all()


@pytest.mark.parametrize(
    ("given_", "words"),
    [
        (({}, None, [0.5]), "no mass of any"),
        (({"lemon": 0}, None, [0.5]), "no mass of any"),
        (({"lemon": 70, "vetiver": 40}, None, [0.5]), "at most 100"),
        (({"lemon": "half"}, None, [0.5]), "a percent by mass"),
        (({"lemon": 100}, None, [0]), "remaining"),
        (({"lemon": 100}, None, [1.1]), "remaining"),
        (({"lemon": 100}, None, []), "remaining"),
    ],
)
def test_mixtures_that_mean_nothing_are_refused(given_, words):
    with pytest.raises(BadNumber, match=words):
        evaporate_to(*given_)


def test_an_unknown_oil_is_named():
    with pytest.raises(UnknownMaterial, match="lemon"):
        evaporate_to({"lemmon": 100})
    with pytest.raises(UnknownMaterial, match="jojoba"):
        evaporate_to({"lemon": 50}, "jojobba")


def test_importing_the_fade_loads_no_statistics():
    program = (
        "import blendkit.evaporation.forecast, blendkit.evaporation.evaporate, sys;"
        "print([n for n in ('scipy.stats', 'scipy.optimize') if n in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
