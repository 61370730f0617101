"""The day as it is lived: laws of putting on again, washing and layering, and the schedule."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from blendkit import example_document
from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.forecast import forecast
from blendkit.evaporation.perception import gone_at, plain_strengths
from blendkit.evaporation.wear import film_of, layered
from blendkit.evaporation.wearing import Again, Wash, day_of, schedule
from blendkit.foundation.errors import BadNumber
from blendkit.keeping.own_materials import keep_mixture

INVENTED = Blend.from_dict(example_document())
FILM = film_of(INVENTED.bottle, Conditions())
HOURS = np.array([0, 0.5, 1, 2, 3, 4, 6, 9.0])


def levels(events, hours=HOURS):
    return day_of(FILM, events, hours, 4).levels


def test_a_day_without_events_is_the_forecast():
    np.testing.assert_allclose(levels([])[..., 0], forecast(FILM, HOURS, 2).levels, rtol=1e-7)


@pytest.mark.parametrize("event", [Again(2.0, 0.0), Wash(2.0, 1.0)])
def test_nothing_put_on_and_nothing_washed_off_change_nothing(event):
    np.testing.assert_allclose(levels([event]), levels([]), rtol=1e-7, atol=1e-12)


def test_a_wash_that_leaves_nothing_leaves_no_smell_and_one_on_top_begins_afresh():
    washed = levels([Wash(2.0)])
    assert (washed[:, HOURS >= 2] == 0).all()
    np.testing.assert_allclose(washed[:, HOURS < 2], levels([])[:, HOURS < 2], rtol=1e-12)
    again = levels([Wash(2.0), Again(2.0)])
    np.testing.assert_allclose(
        again[:, HOURS >= 2], levels([], HOURS[HOURS >= 2] - 2), rtol=1e-7
    )


def test_a_washed_film_smells_alike_at_once_and_fades_like_a_thin_one():
    # a share s of the same mixture: what takes t takes s t
    share, later = 0.25, np.array([0.0, 1, 2, 4])
    washed = levels([Wash(1.0, share)], 1 + share * later)
    np.testing.assert_allclose(washed, levels([], 1 + later), rtol=1e-6)


def test_putting_on_again_against_a_general_solver():
    rates, carrier = FILM.loss_rates, FILM.carrier_moles

    def solved(start, stays, hours):
        return solve_ivp(
            lambda _, n: -rates * n / (stays + n.sum()),
            (0, hours * 3600), start, "LSODA", rtol=1e-10, atol=1e-14,
        ).y[:, -1]  # fmt: skip

    first = solved(FILM.moles, carrier, 3)
    last = solved(first + FILM.moles, 2 * carrier, 3)
    over = last / (last.sum() + 2 * carrier) * (FILM.moles.sum() + carrier)
    # as strengths of a film that has those fractions; plain_strengths takes amounts
    fake = over / over.sum() * last.sum() / 2
    fake = np.vstack([FILM.moles, fake])
    expected = plain_strengths(FILM, fake, FILM.activity)[:, 1]
    found = day_of(FILM, [Again(3.0)], [6.0], 2)
    places = [found.groups.index(oil) for oil in FILM.oils]
    np.testing.assert_allclose(found.levels[places, 0, 0], expected, rtol=1e-4)


def test_two_halves_of_one_bottle_are_the_whole():
    film = layered([(INVENTED.bottle, 0.01), (INVENTED.bottle, 0.01)], Conditions())
    np.testing.assert_allclose(film.moles, FILM.moles, rtol=1e-12)
    np.testing.assert_allclose(film.loss_rates, FILM.loss_rates, rtol=1e-9)
    assert film.notes == FILM.notes
    assert film.carrier_moles == pytest.approx(FILM.carrier_moles)


def test_two_roll_ons_bring_the_amounts_of_both():
    document = example_document()
    document["oils"] = [{"id": "lemon"}, {"id": "geranium"}, {"id": "vetiver"}]
    other = Blend.from_dict(document).bottle
    both = layered([(INVENTED.bottle, 0.02), (other, 0.01)], Conditions())
    alone = film_of(other, Conditions(film_kg_per_m2=0.01))
    amounts = {
        m.id: n for f in (FILM, alone) for m, n in zip(f.molecules, f.moles, strict=True)
    }
    assert {m.id for m in both.molecules} == set(amounts)
    assert both.moles.sum() == pytest.approx(FILM.moles.sum() + alone.moles.sum())
    assert both.carrier_moles == pytest.approx(FILM.carrier_moles + alone.carrier_moles)


@pytest.mark.usefixtures("own_folder")
def test_a_dilution_in_a_roll_on_brings_oil_and_carrier():
    rose = keep_mixture("Rose (invented)", {"rose-otto": 3, "jojoba": 97})
    document = example_document()
    document["oils"] = [{"id": "lemon"}, {"id": rose.id, "note": "middle"}, {"id": "vetiver"}]
    bottle = Blend.from_dict(document).bottle
    film, alone = layered([(bottle, 0.02)], Conditions()), film_of(bottle, Conditions())
    assert set(film.oils) == {"lemon", "rose-otto", "vetiver"}
    np.testing.assert_allclose(film.moles, alone.moles, rtol=1e-9)
    assert film.carrier_moles == pytest.approx(alone.carrier_moles)


@pytest.mark.parametrize("until", [1.5, 5.0, 8.0])
def test_a_schedule_keeps_the_target_and_no_shorter_one_does(until):
    found = schedule(FILM, "top", until)
    hours = np.arange(0, until + 0.01, 0.25)
    row = day_of(FILM, [], [0.0], 2).groups.index("top")

    def keeps(times):
        plain = day_of(FILM, [Again(hour) for hour in times], hours, 2).levels[row, :, 0]
        return plain.min() >= gone_at("smell")

    assert found is not None
    assert keeps(found)
    for times in itertools.combinations(range(1, int(np.ceil(until))), max(len(found) - 1, 0)):
        assert len(times) == len(found) or not keeps(times)


def test_what_cannot_be_kept_is_said():
    thin = film_of(INVENTED.bottle, Conditions(film_kg_per_m2=0.001, nose="room"))
    assert schedule(thin, "top", 23.0) is None


def test_more_put_on_lasts_longer_and_ends_are_ordered():
    once, twice = (day_of(FILM, each, draws=16).until("top") for each in ([], [Again(2.0)]))
    assert twice[0] > once[0]
    for plain, low, high in (once, twice):
        assert low <= plain <= high


@pytest.mark.parametrize("event", [Again(0.0), Again(25.0), Wash(1.0, 1.5), Again(1.0, -1.0)])
def test_events_that_mean_nothing_are_refused(event):
    with pytest.raises(BadNumber):
        day_of(FILM, [event])
    with pytest.raises(BadNumber):
        schedule(FILM, "top", 0)
