"""Times and sentences read off a forecast."""

from __future__ import annotations

import math
import re
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
    leads,
    odd_oils,
    sentences,
    span_of,
    unknown_holds,
)
from blendkit.evaporation.fading import hours_until
from blendkit.evaporation.forecast import Forecast, Lasting, forecast, lasting_of
from blendkit.evaporation.wear import film_of, film_of_masses


def found_of(document, last=24.0, way="smell", **conditions):
    blend = Blend.from_dict(document)
    film = film_of(blend.bottle, Conditions.read(**conditions))
    return forecast(film, hours_until(last), 128, way=way), lasting_of(film, 128, way=way)


FOUND, LASTING = found_of(example_document())


def with_oil(entry):
    document = example_document()
    document["oils"].append(entry)
    return document


def test_chances_to_be_in_front_add_up_and_move_from_the_top_to_the_base():
    chances = in_front(FOUND)
    np.testing.assert_allclose(chances.sum(axis=0), 1)
    assert chances[0, 0] > chances[2, 0]
    assert chances[2, -1] > chances[0, -1]


def test_to_lead_is_rarer_than_to_be_in_front():
    assert (leads(FOUND) <= in_front(FOUND) + 1e-12).all()


def test_by_vapour_notes_cannot_be_compared():
    by_vapour, _ = found_of(example_document(), way="vapour")
    np.testing.assert_allclose(in_front(by_vapour), 1 / 3)
    assert not leads(by_vapour).any()


# --- oils in the wrong note ---------------------------------------------------------------


def test_a_citrus_called_a_base_note_is_found_out():
    _, lasting = found_of(with_oil({"id": "sweet-orange", "note": "base"}))
    odd = {each.oil: each for each in odd_oils(lasting)}
    assert odd["sweet-orange"].like in ("top", "middle")
    assert odd["sweet-orange"].chance >= 2 / 3
    assert "is listed as base but leaves with the" in str(odd["sweet-orange"])


def test_a_wood_called_a_top_note_is_found_out():
    _, lasting = found_of(with_oil({"id": "vetiver", "note": "top"}))
    odd = {each.oil: each for each in odd_oils(lasting)}
    assert odd["vetiver"].like == "base"
    assert "is listed as top but stays with the base" in str(odd["vetiver"])


def test_oils_in_their_usual_notes_are_left_alone():
    odd = {each.oil for each in odd_oils(LASTING)}
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
        (Span(0, 0, 0), "from the start"),
        (Span(50, 40, math.inf), "not before the day after or longer"),
    ],
)
def test_ranges_read_as_sentences_do(span, words):
    assert str(span) == words


@pytest.mark.parametrize("name", ["jojoba", "squalane"])
def test_sentences_promise_nothing_that_cannot_be_known(name):
    document = example_document() | {"carriers": [{"id": name}]}
    document["oils"].append({"id": "oud", "note": "base"})
    text = " ".join(sentences(*found_of(document)))
    assert "cannot be told" in text
    assert "two chances in three" in text
    assert "100 % of Oud (agarwood) is not described by any analysis on record" in text
    assert not re.search(r"\bsafe|metre|meter|nan|inf\b", text, flags=re.IGNORECASE)


def test_a_single_oil_can_be_spoken_of():
    document = {
        "bottle": "5 mL", "strength": "10 %", "note_parts": {"top": 1},
        "oils": [{"id": "lemon", "note": "top"}], "carriers": [{"id": "jojoba"}],
    }  # fmt: skip
    text = " ".join(sentences(*found_of(document)))
    assert "The top is gone" in text


def test_clove_in_squalane_gets_a_sentence_and_no_time():
    film = film_of_masses({"clove-bud": 20}, {"squalane": 80}, {}, Conditions())
    assert unknown_holds(film) == ("clove-bud",)
    text = " ".join(sentences(forecast(film, hours_until(12), 32), lasting_of(film, 32)))
    assert "How long Clove bud lasts in this carrier is not known" in text
    assert "How long the whole lasts is not known" in text
    assert " gone after" not in text
    in_oil = film_of_masses({"clove-bud": 20}, {"sweet-almond": 80}, {}, Conditions())
    assert unknown_holds(in_oil) == ()


def test_what_curves_cover_poorly_is_said_with_its_share():
    text = " ".join(sentences(FOUND, LASTING))
    assert "Curves cover little of Cedarwood Atlas (" in text
    assert "Lavender (" not in text


# --- forecasts made by hand -----------------------------------------------------------------


def by_hand(top, base, draws=None, hours=(0, 1, 2, 3, 4)):
    """Strengths of a top note of one oil and a base note of one oil, and their draws."""
    levels = np.array([top, base, top, base, np.maximum(top, base)], dtype=float)
    film = SimpleNamespace(
        oils=("light", "heavy"), notes=("top", "base"), oil_names=("Light", "Heavy"),
        undescribed={},
    )  # fmt: skip
    draws = np.repeat(levels[..., None], 7, axis=-1) if draws is None else draws
    return Forecast(
        film=film,
        hours=np.array(hours, dtype=float),
        groups=("top", "base", "light", "heavy", "whole"),
        kinds=("note", "note", "oil", "oil", "whole"),
        remaining=np.ones_like(levels),
        levels=levels,
        log_draws=np.log(np.maximum(draws, 1e-12)),
    )


def test_notes_within_a_quarter_share_the_place_in_front():
    # 1 beside 0.81 is less than a quarter apart, beside 0.79 it is more
    found = by_hand([1, 1, 1, 0.04, 0], [0.81, 0.79, 1.1, 1, 0])
    top, base = in_front(found)
    assert top == pytest.approx([0.5, 1, 0.5, 0, 0.5])
    assert base == pytest.approx([0.5, 0, 0.5, 1, 0.5])
    top, base = leads(found)
    assert top.tolist() == [0, 1, 0, 0, 0]
    assert base.tolist() == [0, 0, 0, 1, 0]


def test_each_draw_has_its_own_note_in_front():
    draws = np.repeat(np.ones((5, 5, 1)), 7, axis=-1)
    draws[0, 1, :2] = 3  # three to one in two draws of seven, level in the others
    top, _ = in_front(by_hand([1] * 5, [1] * 5, draws))
    assert top[:2] == pytest.approx([0.5, (2 + 5 * 0.5) / 7])


def lasting_by_hand(gone, notes):
    """Oils that are gone at the hours given, in each of some draws."""
    names = ("One", "Two", "Three", "Four")[: len(gone)]
    film = SimpleNamespace(oils=tuple(map(str.lower, names)), notes=notes, oil_names=names)
    times = np.array(gone, dtype=float)
    return Lasting(film, film.oils, ("oil",) * len(gone), np.median(times, axis=1), times)


def test_an_oil_is_odd_where_two_draws_in_three_say_so():
    # called base, and gone at about the top's one hour in two draws of three
    [odd] = odd_oils(
        lasting_by_hand([(1, 1, 1), (0.5, 0.9, 8), (9, 9, 9)], ("top", "base", "base"))
    )
    assert odd == ("two", "Two", "base", "top", pytest.approx(2 / 3))
    assert str(odd) == "Two is listed as base but leaves with the top."
    few = [(1, 1, 1), (0.5, 6, 8), (9, 9, 9)]
    assert odd_oils(lasting_by_hand(few, ("top", "base", "base"))) == []


def test_an_oil_is_compared_with_the_median_oil_of_a_note():
    # outlasts one of three base oils and not the median one: it stays a middle note
    gone = [(30,), (20,), (50,), (60,)]
    odd = odd_oils(lasting_by_hand(gone, ("middle", "base", "base", "base")))
    assert "one" not in {each.oil for each in odd}


def test_an_oil_that_outlasts_a_later_note_is_odd_and_none_is_where_nothing_tells():
    notes, early = ("top", "top", "top", "base"), [(1, 1, 1), (1.2, 1.2, 1.2)]
    [odd] = odd_oils(lasting_by_hand([*early, (50, 50, 2), (30, 30, 30)], notes))
    assert odd == ("three", "Three", "top", "base", pytest.approx(2 / 3))
    never = (math.inf,) * 3
    [odd] = odd_oils(lasting_by_hand([*early, never, never], notes))
    assert (odd.oil, odd.like) == ("three", "base")
    assert odd_oils(lasting_by_hand([never] * 4, notes)) == []


def test_a_range_of_a_lasting_leaves_out_one_draw_in_six_at_either_end():
    times = np.array([[2.5, 0.5, 3, 1, 2, 3.5, np.inf]])
    lasting = Lasting(None, ("whole",), ("whole",), np.array([2.25]), times)
    assert span_of(lasting, "whole") == pytest.approx((2.25, 1, 3.5))
    times[0, 5] = np.inf
    assert span_of(lasting, "whole") == (pytest.approx(2.25), pytest.approx(1), math.inf)
    outside = Lasting(None, ("whole",), ("whole",), np.array([0.25]), times)
    assert span_of(outside, "whole").low == 0.25
