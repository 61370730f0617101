"""Times and sentences read off a forecast."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit import example_document
from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.fade_words import (
    Span,
    hour_words,
    in_front,
    odd_oils,
    sentences,
    when_below,
)
from blendkit.evaporation.forecast import Forecast, forecast, hours_until
from blendkit.evaporation.wear import film_of, film_of_masses


def found_of(document, last=24.0, **conditions):
    blend = Blend.from_dict(document)
    film = film_of(blend.bottle, Conditions.read(**conditions))
    return forecast(film, hours_until(last), 128)


FOUND = found_of(example_document())


def with_oil(entry):
    document = example_document()
    document["oils"].append(entry)
    return document


# --- times --------------------------------------------------------------------------------


@pytest.mark.parametrize("group", [*FOUND.groups])
def test_a_group_is_below_the_share_from_its_time_on(group):
    when = when_below(FOUND, group, 0.5)
    strength = FOUND.strength[FOUND.place(group)]
    if math.isfinite(when.likely):
        assert (strength[FOUND.hours > when.likely + 1e-9] < 0.5).all()
        at = np.interp(when.likely, FOUND.hours, strength)
        assert at == pytest.approx(0.5, abs=0.05)
    else:
        assert strength[-1] >= 0.5
    assert when.low <= when.likely <= when.high


def test_a_lone_molecule_falls_below_a_share_when_its_own_equation_says():
    # One dilute molecule: vapour falls as exp(-K t / N), strength as its power 0.35
    film = film_of_masses({"wintergreen": 0.001}, {"jojoba": 100}, {}, Conditions())
    found = forecast(film, np.linspace(0, 24, 400), 8)
    main = int(film.moles.argmax())
    assert film.moles[main] > 0.9 * film.moles.sum()
    expected = -math.log(0.2) / 0.35 * film.carrier_moles / film.loss_rates[main] / 3600
    assert when_below(found, "wintergreen", 0.2).likely == pytest.approx(expected, rel=0.05)


def test_notes_go_in_their_order():
    top, middle, base = (
        when_below(FOUND, note, 0.3).likely for note in ("top", "middle", "base")
    )
    assert top < middle < base


def test_a_higher_share_is_lost_sooner():
    times = [when_below(FOUND, "middle", share).likely for share in (0.7, 0.5, 0.3, 0.1)]
    assert times == sorted(times)


def test_chances_to_be_in_front_add_up_and_move_from_the_top_to_the_base():
    chances = in_front(FOUND)
    np.testing.assert_allclose(chances.sum(axis=0), 1)
    assert chances[0, 0] > chances[2, 0]
    assert chances[2, -1] > chances[0, -1]


# --- oils in the wrong note ---------------------------------------------------------------


def test_a_citrus_called_a_middle_note_is_found_out():
    found = found_of(with_oil({"id": "sweet-orange", "note": "middle"}))
    odd = {each.oil: each for each in odd_oils(found)}
    assert odd["sweet-orange"].like == "top"
    assert odd["sweet-orange"].chance >= 2 / 3
    assert str(odd["sweet-orange"]).endswith("is given as middle and leaves with the top.")


def test_a_wood_called_a_top_note_is_found_out():
    found = found_of(with_oil({"id": "vetiver", "note": "top"}), 48)
    odd = {each.oil: each for each in odd_oils(found)}
    assert odd["vetiver"].like in ("middle", "base")
    assert "stays with" in str(odd["vetiver"])


def test_oils_in_their_usual_notes_are_left_alone():
    odd = {each.oil for each in odd_oils(FOUND)}
    assert not odd & {"bergamot-fcf", "lavender", "cedarwood-atlas", "patchouli"}


# --- words --------------------------------------------------------------------------------


@given(st.floats(0.01, 100), st.floats(0.01, 100))
def test_longer_times_never_sound_shorter(one, other):
    one, other = sorted((one, other))
    order = ["minute", "minutes", "hour", "hours", "into the evening", "next day"]

    def rank(hours):
        words = hour_words(hours)
        number = words.split()[0].replace("½", ".5")
        unit = words.split()[1] if number[0].isdigit() else words
        if not number[0].isdigit():
            return order.index(words) * 1e6
        return float(number) * (1 if unit.startswith("minute") else 60)

    assert rank(one) <= rank(other)


@pytest.mark.parametrize(
    ("hours", "words"),
    [(8.01, "into the evening"), (14, "into the evening"), (14.1, "next day")],
)
def test_beyond_eight_hours_only_words_are_left(hours, words):
    assert hour_words(hours) == words


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0.3, "1 minute"), (1.4, "1 minute"), (1.6, "2 minutes"), (9.4, "9 minutes"),
        # by fives from ten minutes on, by halves from the hour, by hours from three
        (11, "10 minutes"), (13, "15 minutes"), (57, "55 minutes"), (58, "1 hour"),
        (74, "1 hour"), (76, "1½ hours"), (104, "1½ hours"), (106, "2 hours"),
        (150, "2½ hours"), (179, "3 hours"), (200, "3 hours"), (215, "4 hours"),
        (480, "8 hours"),
    ],
)  # fmt: skip
def test_a_time_is_coarser_the_longer_it_is(minutes, words):
    assert hour_words(minutes / 60) == words


@pytest.mark.parametrize(
    ("span", "words"),
    [
        (Span(0.5, 0.3, 1.0), "after 20 minutes to 1 hour"),
        (Span(1, 1, 1), "after 1 hour"),
        (Span(5, 3, 12), "after 3 hours at the earliest, perhaps not until the evening"),
        (Span(9, 8, 20), "after 8 hours at the earliest, perhaps not until the next day"),
        (Span(7, 6, 8), "after 6 hours to 8 hours"),
        (Span(12, 10, math.inf), "not before the evening"),
        (Span(20, 15, math.inf), "not before the next day"),
        (Span(math.nan, math.nan, math.nan), "not at all"),
    ],
)
def test_ranges_read_as_sentences_do(span, words):
    assert str(span) == words


@pytest.mark.parametrize("name", ["jojoba", "squalane"])
def test_sentences_promise_nothing_that_cannot_be_known(name):
    document = example_document() | {"carriers": [{"id": name}]}
    document["oils"].append({"id": "oud", "note": "base"})
    text = " ".join(sentences(found_of(document)))
    assert "cannot be told" in text
    assert "two chances in three" in text
    assert "100 % of Oud (agarwood) is not described by any analysis on record" in text
    assert not re.search(r"\bsafe|metre|meter|nan|inf\b", text, flags=re.IGNORECASE)


def test_a_single_oil_can_be_spoken_of():
    document = {
        "bottle": "5 mL", "strength": "10 %", "note_parts": {"top": 1},
        "oils": [{"id": "lemon", "note": "top"}], "carriers": [{"id": "jojoba"}],
    }  # fmt: skip
    text = " ".join(sentences(found_of(document)))
    assert "The top has gone" in text


# --- a forecast made by hand ----------------------------------------------------------------


def halving(*hours_to_a_quarter):
    """Curves, one a draw, that fall by halves and reach a quarter at the hours given."""
    hours = np.arange(5.0)
    return np.stack([0.25 ** (hours / quarter) for quarter in hours_to_a_quarter], axis=-1)


def by_hand(top, base, draws=None, hours=(0, 1, 2, 3, 4), exponent=0.5, undescribed=None):
    """Vapours of a top note of one oil and a base note of one oil, and their draws."""
    vapour = np.array([top, base, top, base, np.maximum(top, base)], dtype=float)
    film = SimpleNamespace(
        oils=("light", "heavy"), notes=("top", "base"), oil_names=("Light", "Heavy"),
        undescribed=undescribed or {},
    )  # fmt: skip
    return Forecast(
        film=film,
        hours=np.array(hours, dtype=float),
        groups=("top", "base", "light", "heavy", "whole"),
        kinds=("note", "note", "oil", "oil", "whole"),
        remaining=np.ones_like(vapour),
        vapour=vapour,
        vapour_draws=np.repeat(vapour[..., None], 7, axis=-1) if draws is None else draws,
        start_pa=1.0,
        exponent=exponent,
    )


def test_a_time_lies_between_the_hours_by_the_logarithm():
    # Strength is the root of the vapour, so a strength of 0.2 is a vapour of 0.04. From 0.16 at
    # hour 1 to 0.01 at hour 2 that is a factor of 4 out of 16: half of the way by logarithm.
    found = by_hand([1, 0.16, 0.01, 1e-3, 1e-4], [1] * 5)
    assert when_below(found, "top", 0.2) == pytest.approx((1.5, 1.5, 1.5))
    # and a strength of 0.4 is a vapour of 0.16, there at hour 1 to the letter
    assert when_below(found, "top", 0.4).likely == pytest.approx(1)


def test_the_share_is_of_the_groups_own_start():
    found = by_hand([3, 0.48, 0.03, 3e-3, 3e-4], [1] * 5)
    assert when_below(found, "top", 0.2) == pytest.approx((1.5, 1.5, 1.5))


def test_a_group_that_comes_back_has_not_gone():
    # below at hour 1 and back at hour 2; for good between 0.64 at hour 2 and 0.01 at hour 3:
    # a factor of 16 out of 64 is four sixths of the way
    found = by_hand([1, 0.01, 0.64, 0.01, 0.01], [1] * 5)
    assert when_below(found, "top", 0.2).likely == pytest.approx(2 + 4 / 6)


def test_what_never_falls_that_far_is_infinitely_late():
    found = by_hand([1, 0.9, 0.8, 0.7, 0.6], [1] * 5)
    assert when_below(found, "top", 0.5) == (math.inf, math.inf, math.inf)


def test_a_range_leaves_out_one_draw_in_six_at_either_end():
    # A vapour of a quarter is half the strength. Of seven draws in order the second and the
    # last but one are a sixth from the ends; the seventh never comes to it within 4 hours.
    draws = np.stack([halving(2.5, 0.5, 3, 1, 2, 3.5, 9)] * 5)
    found = by_hand(0.25 ** (np.arange(5) / 2.25), [1] * 5, draws)
    assert when_below(found, "top", 0.5) == pytest.approx((2.25, 1, 3.5))
    # with two such draws the last but one is infinite as well
    draws = np.stack([halving(2.5, 0.5, 3, 1, 2, 8, 9)] * 5)
    found = by_hand(0.25 ** (np.arange(5) / 2.25), [1] * 5, draws)
    assert when_below(found, "top", 0.5) == (pytest.approx(2.25), pytest.approx(1), math.inf)


def test_a_range_holds_the_plain_time_even_where_the_draws_do_not():
    draws = np.stack([halving(*[2] * 7)] * 5)
    early, late = (
        when_below(by_hand(0.25 ** (np.arange(5) / quarter), [1] * 5, draws), "top", 0.5)
        for quarter in (1, 3)
    )
    assert early == pytest.approx((1, 1, 2))
    assert late == pytest.approx((3, 2, 3))


def test_notes_within_a_factor_of_two_share_the_place_in_front():
    # strengths are the roots: 1 beside 0.5 is a factor of two and too close, 0.49 is not
    found = by_hand([1, 1, 1, 0.04, 0], [0.25, 0.2401, 1.1, 1, 0])
    top, base = in_front(found)
    assert top == pytest.approx([0.5, 1, 0.5, 0, 0.5])
    assert base == pytest.approx([0.5, 0, 0.5, 1, 0.5])


def test_each_draw_has_its_own_note_in_front():
    draws = np.repeat(np.ones((5, 5, 1)), 7, axis=-1)
    draws[0, 1, :2] = 9  # strengths of three to one in two draws of seven, level in the others
    top, _ = in_front(by_hand([1] * 5, [1] * 5, draws))
    assert top[:2] == pytest.approx([0.5, (2 + 5 * 0.5) / 7])


# at this power a quarter of the vapour is a fifth of the strength, and that counts as gone
GONE_AT_A_QUARTER = math.log(0.2) / math.log(0.25)


def odd_ones(gone, notes, vapours=(1, 1, 1)):
    """Odd ones of three oils that are gone at the hours given, in each of three draws."""
    oils, names = ("one", "two", "three"), ("One", "Two", "Three")
    curves = np.stack([v * halving(*hours) for v, hours in zip(vapours, gone, strict=True)])
    film = SimpleNamespace(oils=oils, notes=notes, oil_names=names)
    found = by_hand([1] * 5, [1] * 5, curves, exponent=GONE_AT_A_QUARTER)
    return odd_oils(replace(found, film=film, kinds=("oil",) * 3, groups=oils))


def test_an_oil_is_odd_where_two_draws_in_three_say_so():
    # called base, and gone before the top's one hour in two draws of three
    [odd] = odd_ones([(1, 1, 1), (0.5, 0.9, 1.1), (3, 3, 3)], ("top", "base", "base"))
    assert odd == ("two", "Two", "base", "top", pytest.approx(2 / 3))
    assert str(odd) == "Two is given as base and leaves with the top."
    assert odd_ones([(1, 1, 1), (0.5, 1.1, 1.1), (3, 3, 3)], ("top", "base", "base")) == []


def test_an_oil_that_is_like_two_notes_is_said_of_the_likelier():
    # before the top's one hour in two draws of three, before the middle's 1.2 hours in all
    gone = [(1, 1, 1), (0.5, 0.9, 1.1), (1.2, 1.2, 1.2)]
    odd = {each.oil: each for each in odd_ones(gone, ("top", "base", "middle"))}
    assert (odd["two"].like, odd["two"].chance) == ("middle", 1)


def test_an_oil_that_outlasts_a_later_note_is_odd():
    # the second oil is called top, is there after 4 hours, and the base has gone at 3; it is so
    # little of the top that the top as a whole goes early
    notes, little = ("top", "top", "base"), (1, 0.1, 1)
    [odd] = odd_ones([(1, 1, 1), (50, 50, 2), (3, 3, 3)], notes, little)
    assert odd == ("two", "Two", "top", "base", pytest.approx(2 / 3))
    assert str(odd) == "Two is given as top and stays with the base."
    # where both are there to the end nobody can tell
    assert odd_ones([(1, 1, 1), (50, 50, 50), (60, 60, 60)], notes, little) == []


def test_a_forecast_is_told_in_order_with_its_limits():
    hours = np.arange(5)
    # The base stays, and is the stronger from hour 1 on: 0.28 beside 0.25. The whole is then
    # the base, and comes to a quarter when 0.25 ** (h / 20) is 1 / 1.2, after 2.6 hours.
    found = by_hand(
        0.25**hours, 0.3 * 0.25 ** (hours / 20), exponent=GONE_AT_A_QUARTER,
        undescribed={"light": 0.25, "heavy": 0.2, "another": 0.9},
    )  # fmt: skip
    assert sentences(found) == [
        "Put more on after 2½ hours, to keep it above 20 % of its start.",
        "The top has gone after 1 hour.",
        "The base lasts until the next day.",
        "Strength is beside each note's own start; how strong it is, or how far it carries, "
        "cannot be told. Ranges hold with two chances in three.",
        "Which note is in front counts every molecule alike, since how faint a smell a nose "
        "still finds is on record for few; notes within a factor of two share the place.",
        "25 % of Light is not described by any analysis on record and is taken to wear like a "
        "mean constituent.",
    ]


def test_a_blend_that_lasts_is_said():
    hours = np.arange(5)
    found = by_hand(0.9 * 0.25 ** (hours / 30), 0.25 ** (hours / 40))
    assert sentences(found)[:3] == [
        "There is no need to put more on before the evening.",
        "The top lasts until the next day.",
        "The base lasts until the next day.",
    ]
