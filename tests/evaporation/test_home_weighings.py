"""Weighings at home: laws, refusals, and how often simulated makers are right."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit import example_document
from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.forecast import forecast, lasting_of
from blendkit.evaporation.home_weighings import (
    Belief,
    clock_before_smells,
    read_weighing,
    sentences,
)
from blendkit.evaporation.nose_entries import read_log
from blendkit.evaporation.nose_log import learn
from blendkit.evaporation.wear import film_of
from blendkit.foundation.errors import BadNumber, UnknownMaterial
from blendkit.journal.store import open_journal
from blendkit.keeping.clock import keep_weighing, kept_weighings

INVENTED = Blend.from_dict(example_document())
FILM = film_of(INVENTED.bottle, Conditions())
STROKES = {
    "kind": "strokes", "before": "24.31 g", "after": "24.15 g", "strokes": 10, "worn": 1,
    "length": "4 cm", "width": "2 cm", "scale_step": "0.01 g",
}  # fmt: skip
DROP = {
    "kind": "drop", "oil": "lemon", "temperature": "22 °C", "length": "25 mm", "width": "",
    "scale_step": "0.001 g",
    "readings": [[0, "0.041 g"], [15, "0.034 g"], [30, "0.028 g"], [60, "0.018 g"]],
}  # fmt: skip
few = settings(deadline=None, max_examples=25)


def strokes_of(load_g_per_m2, **more):
    """Ten strokes on 8 cm2, one of them worn, that leave this load."""
    off = 10 * load_g_per_m2 * 8e-4
    return STROKES | {"before": "30 g", "after": f"{30 - off:.6f} g"} | more


# --- laws ---------------------------------------------------------------------------------


def test_strokes_by_hand():
    # 0.16 g by ten strokes are 16 mg each; one over 8 cm2 is 20 g/m2, which is the usual load
    found = read_weighing(STROKES)
    assert found.stroke_kg == pytest.approx(16e-6)
    assert found.load_kg_per_m2 == pytest.approx(0.02)
    assert found.scale_share == pytest.approx(0.01 / 0.16)  # half a step at either reading
    assert found.belief.mean == pytest.approx(0, abs=1e-9)
    errors = (0.01 / math.sqrt(6) / 0.16, 1 / 40, 1 / 20, math.log(1.25))
    assert found.belief.spread == pytest.approx(math.hypot(*errors))
    lines = sentences(found, 0.0096)  # 9.6 g are 600 strokes, and 300 days of two
    assert (
        "16 mg (± 6.2 % by the scale" in lines[0] or "16 mg (± 6.3 % by the scale" in lines[0]
    )
    assert "600 strokes: 300 days at 2 a day" in lines[1]


def test_a_round_patch_is_a_circle():
    found = read_weighing(STROKES | {"length": "20 mm", "width": ""})
    assert found.load_kg_per_m2 == pytest.approx(16e-6 / (math.pi * 1e-4))


def test_a_weighing_of_the_usual_film_leaves_the_median():
    clock = learn([], [read_weighing(strokes_of(20))])
    assert clock.factor == pytest.approx(1)
    plain, told = (forecast(FILM, [1, 4], 64, clock=each) for each in (None, clock))
    np.testing.assert_allclose(plain.levels, told.levels, rtol=1e-12)


@few
@given(st.lists(st.floats(2, 150), min_size=1, max_size=6))
def test_more_weighings_never_widen_the_clock(loads):
    spreads = [clock_before_smells([]).spread]
    kept = []
    for load in loads:
        kept.append(read_weighing(strokes_of(load)))
        spreads.append(clock_before_smells(kept).spread)
    assert (np.diff(spreads) < 0).all()


def test_a_drop_narrows_the_clock_further_and_another_one_still():
    strokes, drop = read_weighing(STROKES), read_weighing(DROP)
    kept = ([], [strokes], [strokes, drop], [strokes, drop, drop])
    spreads = [clock_before_smells(each).spread for each in kept]
    assert (np.diff(spreads) < 0).all()
    clocks = [learn([], each) for each in kept[1:]]
    bands = [lasting_of(FILM, 256, clock=clock).ends() for clock in (None, *clocks)]
    top = lasting_of(FILM, 2).groups.index("top")
    assert (
        np.diff([math.log(high / low) for low, high in (b[:, top] for b in bands)]) < 0
    ).all()


def test_weighings_and_smells_join():
    smell = {"group": "top", "minutes": 60, "what": "gone"}
    log = read_log({"blend": INVENTED.to_dict(), "smells": [smell]})
    alone, both = learn([log]), learn([log], [read_weighing(STROKES)])
    assert (both.events, both.weighings) == (1, 1)
    assert both.spread < alone.spread
    # a nose that says faster is believed less where the load is known
    assert alone.factor < both.factor < 1
    thick = learn([log], [read_weighing(strokes_of(60))])
    assert thick.factor > both.factor


def test_faster_air_dries_a_drop_faster():
    slow, fast = (
        read_weighing(DROP | {"readings": [[0, "40 mg"], [60, rest]]}).belief.mean
        for rest in ("36 mg", "18 mg")
    )
    assert fast > slow + 0.5


def test_precisions_add_by_hand():
    # 1 with 2 and 4 with 1: the second counts four times
    assert Belief(1, 2).joined(Belief(4, 1)) == pytest.approx((17 / 5, math.sqrt(4 / 5)))


def test_readings_that_tell_nothing_change_nothing():
    drop = read_weighing(DROP | {"scale_step": "5 g"})
    assert drop.belief is None
    assert clock_before_smells([drop]) == clock_before_smells([])
    assert "say nothing" in sentences(drop, 0.01)[0]


# --- simulated makers ---------------------------------------------------------------------


def test_simulated_makers_find_their_clock_nine_times_in_ten():
    # Loads, airs, molecules, strokes, rooms and scales drawn as the model says; the seed of the
    # draws of molecules is not the one the fit goes by
    chance, makers = np.random.default_rng(19), 160
    inside = {"load": 0, "air": 0, "clock": 0}
    plain = read_weighing(DROP)
    wrists = chance.normal(0, math.log(2.2), makers)
    rooms = np.hypot(math.log(1.4), 0.07) * chance.normal(size=makers)
    airs = np.exp(wrists + rooms)  # over the table
    lost = plain.lost_at(airs, seed=77)
    for maker, wrist in enumerate(wrists):
        load = math.log(1.8) * chance.normal()
        day, edge = chance.normal(0, [math.log(1.25), 0.056])
        off = 10 * 0.02 * math.exp(load + day) * 8e-4 * 1e3  # g
        full = 40 + chance.uniform()
        masses = [np.round(full - each, 2) for each in (0, off)]
        patch = {"length": f"{4 * math.exp(edge)} cm"}
        before, after = (f"{each:.2f} g" for each in masses)
        strokes = STROKES | patch | {"before": before, "after": after}
        held = lost[chance.integers(lost.shape[0]), maker] * 1e3  # g
        held = held + 0.041 * 0.02 * chance.normal(size=held.shape)
        readings = [[0, "0.041 g"]] + [
            [minute, f"{max(round(0.041 - each, 3), 0)} g"]
            for minute, each in zip((15, 30, 60), held, strict=True)
        ]
        kept = []
        if masses[0] > masses[1]:
            kept.append(read_weighing(strokes))
        kept.append(read_weighing(DROP | {"readings": readings}))
        only_load = clock_before_smells(kept[:-1])
        only_air = clock_before_smells(kept[-1:])
        both = clock_before_smells(kept)
        usual_air, usual_load = math.log(2.2), math.log(1.8)
        warmth = 0.14 * chance.normal()
        for name, belief, truth, other in (
            ("load", only_load, load, usual_air * chance.normal()),
            ("air", only_air, -wrist, usual_load * chance.normal()),
            ("clock", both, load - wrist, 0.0),
        ):
            away = abs(truth + other + warmth - belief.mean) / belief.spread
            inside[name] += away < 1.645
    shares = {name: count / makers for name, count in inside.items()}
    # 0.9 of 160 makers has a standard error of 0.024
    assert all(0.84 < share < 0.96 for share in shares.values()), shares


def test_weighing_narrows_the_time_of_a_top_note():
    # In sd of ln t: what a curve of smell may be off weighs more than load and air together, so
    # by smell less is gained than by vapour
    strokes, drop = read_weighing(STROKES), read_weighing(DROP)
    for way, after in (("smell", (0.96, 0.90)), ("vapour", (0.92, 0.80))):
        spreads = []
        for kept in ([], [strokes], [strokes, drop]):
            found = lasting_of(FILM, 1024, clock=learn([], kept), way=way)
            times = found.draws[found.groups.index("top")].clip(1e-2, 168)
            spreads.append(float(np.std(np.log(times))))
        assert spreads[1] < after[0] * spreads[0]
        assert spreads[2] < after[1] * spreads[0]


# --- refusals and the store ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"kind": "shake"}, "strokes"),
        ({"after": "25 g"}, "more strokes"),
        ({"after": "24.31 g"}, "less after"),
        ({"before": "24.31"}, "unit"),
        ({"strokes": 0}, "whole number"),
        ({"worn": 2.5}, "whole number"),
        ({"length": "0 cm"}, "above 0"),
        ({"width": "wide"}, "length"),
        ({"scale_step": ""}, "scale step"),
    ],
)
def test_strokes_that_mean_nothing_are_refused(change, words):
    with pytest.raises(BadNumber, match=words):
        read_weighing(STROKES | change)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"readings": []}, "once or more later"),
        ({"readings": [[0, "1 g"]]}, "once or more later"),
        ({"readings": [[5, "40 mg"], [9, "30 mg"]]}, "minute 0"),
        ({"readings": [[0, "40 mg"], [30, "30 mg"], [15, "20 mg"]]}, "in order"),
        ({"readings": [[0, "40 mg"], [math.nan, "30 mg"]]}, "in order"),
        ({"readings": "soon"}, "minutes and mass"),
        ({"readings": [[0, "2 g"], [9, "1 g"]]}, "more of the slide"),
        ({"temperature": "90 °C"}, "15 to 40"),
    ],
)
def test_drops_that_mean_nothing_are_refused(change, words):
    with pytest.raises(BadNumber, match=words):
        read_weighing(DROP | change)


def test_an_unknown_oil_is_refused_and_all_problems_are_listed():
    with pytest.raises((BadNumber, UnknownMaterial), match="lemon"):
        read_weighing(DROP | {"oil": "lemmon"})
    with pytest.raises(BadNumber) as caught:
        read_weighing(STROKES | {"length": "4", "strokes": "ten", "scale_step": "1"})
    assert len(caught.value.problems) == 3


def test_a_weighing_comes_back_and_is_withdrawn(tmp_path):
    journal = open_journal(tmp_path / "home")
    assert kept_weighings(journal) == []
    kept = keep_weighing(journal, STROKES)
    ((row, again),) = kept_weighings(journal)
    assert again == kept
    with pytest.raises(BadNumber):
        keep_weighing(journal, STROKES | {"strokes": -1})
    journal.withdraw(row)
    assert kept_weighings(journal) == []
    journal.close()
