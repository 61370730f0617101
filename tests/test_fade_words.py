"""Times and sentences read off a forecast."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit import example_document
from blendkit.blend.blend import Blend
from blendkit.blend.drops import fill
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.fade import forecast, hours_until
from blendkit.evaporation.fade_words import (
    Span,
    hour_words,
    lead_at,
    leads,
    left_at,
    odd_oils,
    sentences,
    when_below,
    when_leads,
)
from blendkit.evaporation.wear import film_of, film_of_masses


def found_of(document, last=24.0, **conditions):
    blend = Blend.from_dict(document)
    film = film_of(fill(blend), Conditions.read(**conditions))
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


def test_who_leads_is_the_strongest_and_close_ones_are_named():
    rows = FOUND.rows("note")
    names = FOUND.groups[rows]
    for at, lead in enumerate(leads(FOUND)):
        column = FOUND.vapour[rows, at] ** FOUND.exponent
        assert lead.note == names[column.argmax()]
        near = {n for n, s in zip(names, column, strict=True) if s * 2 > column.max()}
        assert {lead.note, *lead.too_close} == near


def test_a_note_leads_from_its_time_on():
    when = when_leads(FOUND, "base")
    assert math.isfinite(when.likely)
    assert lead_at(FOUND, when.likely + 1).note == "base"
    assert (
        str(when_leads(FOUND, "middle")) == "not at all"
        or when_leads(FOUND, "middle").likely >= 0
    )


def test_what_is_left_at_an_hour_lies_in_its_range():
    for likely, low, high in left_at(FOUND, 4).values():
        assert low <= likely <= high
    assert left_at(FOUND, 0)["whole"] == pytest.approx((1, 1, 1))


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


@pytest.mark.parametrize(("hours", "words"), [(9, "into the evening"), (20, "next day")])
def test_beyond_eight_hours_only_words_are_left(hours, words):
    assert hour_words(hours) == words


@pytest.mark.parametrize(
    ("span", "words"),
    [
        (Span(0.5, 0.3, 1.0), "after 20 minutes to 1 hour"),
        (Span(1, 1, 1), "after 1 hour"),
        (Span(5, 3, 12), "after 3 hours at the earliest, perhaps not until the evening"),
        (Span(12, 10, math.inf), "not before the evening"),
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
    assert "100 % of Oud is not described" in text or "% of " in text
    assert not re.search(r"\bsafe|metre|meter|nan|inf\b", text, flags=re.IGNORECASE)


def test_a_single_oil_can_be_spoken_of():
    document = {
        "bottle": "5 mL", "strength": "10 %", "note_parts": {"top": 1},
        "oils": [{"id": "lemon", "note": "top"}], "carriers": [{"id": "jojoba"}],
    }  # fmt: skip
    text = " ".join(sentences(found_of(document)))
    assert "The top has gone" in text
    assert "leads" not in text
