"""The bench log: what is in the bottle after what was tapped, spilled, weighed, taken back."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit import BadBlend, BadNumber, Blend, UnknownMaterial, drop_table, example_document
from blendkit.foundation.errors import BlendkitError
from blendkit.making.bench_events import (
    KINDS,
    LEFT,
    LOST,
    AccidentalDrops,
    Drops,
    Measured,
    MixedIn,
    Remark,
    SavedAs,
    ScaleReading,
    Spilled,
    Start,
    Undo,
    as_document,
    event_of,
)
from blendkit.making.bench_log import Bench
from blendkit.making.bench_words import describe_bottle, line_in_words, ratio_of_notes
from blendkit.making.limit_preview import check_limits, preview_limits
from blendkit.making.recipe import carrier_to_strength_m3, rebalance, recipe_of

ML = 1e-6
G = 1e-3
EMPTY = {
    "name": "Bench (invented)",
    "bottle": "10 mL",
    "strength": "10 %",
    "drops_per_ml": {"default": 20, "patchouli": 25},
    "note_parts": {},
    "oils": [],
    "carriers": [{"id": "jojoba"}],
}
DILUTIONS = pd.read_csv(Path(__file__).parents[1] / "published" / "dilutions.csv")


def bench_of(*events, document=EMPTY):
    return Bench.of([Start(document), *events])


def masses_g(bench):
    return {name: mass / G for name, mass in bench.mixture.masses_kg.items()}


class TestByHand:
    """One session, worked out by hand.

    Densities on record, g/mL: patchouli 0.9615, lavender 0.8875, bergamot FCF 0.8725, jojoba
    0.868. Drops to the millilitre: 25 of patchouli, 20 of everything else.
    """

    EVENTS = (
        Drops("patchouli", 8),  # 8 / 25 = 0.32 mL; 0.32 x 0.9615 = 0.30768 g
        Drops("lavender", 4),  # 4 / 20 = 0.20 mL; 0.20 x 0.8875 = 0.17750 g
        Measured("bergamot-fcf", "0.349 g"),  # 0.349 / 0.8725 = 0.40 mL, as 8 drops
        AccidentalDrops("patchouli", 2),  # 2 / 25 = 0.08 mL; 0.07692 g
        # so far 0.32 + 0.20 + 0.40 + 0.08 = 1.00 mL; 0.91110 g; 8 + 4 + 8 + 2 = 22 drops
        Spilled("0.1 mL"),  # a tenth: 0.90 mL, 0.81999 g, 19.8 drops are left
        Measured("jojoba", "7.812 g"),  # 7.812 / 0.868 = 9.00 mL
        # in all 9.90 mL and 8.63199 g
    )

    def test_amounts(self):
        mixture = bench_of(*self.EVENTS).mixture
        assert mixture.volume_m3 / ML == pytest.approx(9.90)
        assert mixture.mass_kg / G == pytest.approx(8.63199)
        assert mixture.masses_kg["patchouli"] / G == pytest.approx(0.38460 * 0.9)
        assert mixture.room_m3 / ML == pytest.approx(0.10)

    def test_strengths(self):
        mixture = bench_of(*self.EVENTS).mixture
        # by drops: 19.8 of the 9.90 x 20 = 198 drops that the liquid makes
        assert mixture.strength_by_drops == pytest.approx(0.1)
        # by volume: 0.90 / 9.90; by mass: 0.81999 / 8.63199
        assert mixture.strength_by_volume == pytest.approx(0.0909091, abs=5e-8)
        assert mixture.strength_by_mass == pytest.approx(0.0949943, abs=5e-8)

    def test_filled_up(self):
        full = bench_of(*self.EVENTS).mixture.fill_up()
        # 0.10 mL more of jojoba, 0.0868 g: by volume 0.90 / 10.00, by mass 0.81999 / 8.71879
        assert full.strength_by_volume == pytest.approx(0.09)
        assert full.strength_by_mass == pytest.approx(0.0940486, abs=5e-8)

    def test_words(self):
        bench = bench_of(*self.EVENTS)
        assert ratio_of_notes(bench.mixture) == "top 7.2 : middle 3.6 : base 9"
        assert (
            "10 % by drops, 9.09 % by volume, 9.5 % by mass"
            in describe_bottle(bench.mixture)[0]
        )
        assert "0.82 g (0.9 mL) left" in bench.lines[5].message

    def test_carrier_to_strength(self):
        oils = bench_of(*self.EVENTS[:4])
        # 22 drops are 10 % of 220 drops = 11 mL; 1 mL is in, so 10 mL more; 9 mL fit
        assert carrier_to_strength_m3(oils.mixture, 0.1) / ML == pytest.approx(10.0)
        said = " ".join(rebalance(oils.mixture).sentences)
        assert "10 mL of carrier bring it to the target of 10 % by drops" in said
        assert "does not fit" in said
        assert "9 mL of carrier fill it to the mark: 11 %" in said

    def test_a_full_bottle_that_is_still_too_strong_has_no_room_left(self):
        oils = bench_of(*self.EVENTS[:4]).mixture
        # a bottle filled by the button is full but for the rounding of what was poured
        full = oils.with_carrier(oils.room_m3 - 1e-15)
        assert full.room_m3 != 0
        said = " ".join(rebalance(full).sentences)
        assert "no room is left to the mark" in said
        assert "It is full to the mark." in said
        assert "0.000" not in said


@pytest.mark.parametrize("basis", ["volume", "mass"])
def test_carrier_to_strength_on_other_bases(basis):
    document = EMPTY | {"strength_basis": basis, "strength": "12 %"}
    mixture = bench_of(Measured("lavender", "0.9 g"), document=document).mixture
    poured = mixture.with_carrier(carrier_to_strength_m3(mixture, 0.12))
    assert poured.strength == pytest.approx(0.12)


@pytest.mark.parametrize("case", DILUTIONS.to_dict("records"), ids=lambda case: case["source"])
def test_published_dilutions(case, beside_published):
    """C1 V1 = C2 V2, with lavender for what is dissolved and jojoba for what it is in."""
    before, after = case["before_volume_ml"], case["after_volume_ml"]
    document = EMPTY | {"bottle": f"{after} mL", "strength_basis": "volume"}
    oil_ml = before * case["before_concentration"] / 100
    bottle = bench_of(
        Measured("lavender", f"{oil_ml:.12g} mL"),
        Measured("jojoba", f"{before - oil_ml:.12g} mL"),
        document=document,
    )
    assert bottle.mixture.strength_by_volume * 100 == pytest.approx(
        case["before_concentration"]
    )
    half_step = case["printed_step"] / 2
    full = bottle.after(Measured("jojoba", f"{after - before:.12g} mL")).mixture
    assert full.volume_m3 / ML == pytest.approx(after)
    printed = case["after_concentration"]
    beside_published(
        f"{before:g} mL of {case['before_concentration']:g} diluted to {after:g} mL",
        full.strength_by_volume * 100,
        printed,
        printed - half_step,
        printed + half_step,
        source=f"{case['source']} ({case['grade']})",
    )
    # and the other way round: the carrier that brings it there
    needed = carrier_to_strength_m3(bottle.mixture, full.strength_by_volume)
    assert needed / ML == pytest.approx(after - before)


def test_mixing_two_bottles_keeps_the_oil():
    """C1 V1 + C2 V2 = C3 V3: 5 mL at 20 % and 5 mL at 5 % make 10 mL at 12.5 %."""
    strong = {"lavender": 1.0 * 0.8875, "jojoba": 4.0 * 0.868}  # 1 + 4 mL: 20 %
    whole = sum(strong.values())
    fractions = {name: mass / whole for name, mass in strong.items()}
    bench = bench_of(
        Measured("lavender", "0.25 mL"),
        Measured("jojoba", "4.75 mL"),  # 5 mL at 5 %
        MixedIn("a stronger one (invented)", fractions, "5 mL"),
    )
    assert bench.mixture.volume_m3 / ML == pytest.approx(10)
    assert bench.mixture.strength_by_volume == pytest.approx(0.125)


class TestScale:
    def test_says_both_where_they_disagree(self):
        # 20 drops at 20 to the mL: 1 mL, 0.8875 g. The scale says 0.71 g: 0.8 mL, 16 drops'
        # worth; so the drops run 20 / 0.8 = 25 to the millilitre
        bench = bench_of(Drops("lavender", 20), ScaleReading("0.71 g", "lavender"))
        said = bench.lines[-1].message
        assert "0.888 g" in said
        assert "16 drops of Lavender of the size on record, and 20 counted" in said
        assert "25 drops to the millilitre and not 20" in said
        assert bench.mixture.masses_kg["lavender"] / G == pytest.approx(0.71)
        recipe = recipe_of(bench, "as weighed (invented)")
        assert recipe.document["drops_per_ml"]["lavender"] == pytest.approx(25)
        blend = Blend.from_dict(recipe.document)
        assert blend.oil_drops == {"lavender": 20}
        grams = drop_table(blend).set_index("material").loc["lavender", "mass_g"]
        assert grams == pytest.approx(0.71)

    def test_agreement_is_said_and_the_weight_counts(self):
        bench = bench_of(Drops("lavender", 20), ScaleReading("0.89 g"))
        assert "they agree" in bench.lines[-1].message
        assert bench.mixture.mass_kg / G == pytest.approx(0.89)

    def test_what_was_weighed_before_stays(self):
        bench = bench_of(
            Measured("patchouli", "0.50 g"), Drops("lavender", 20), ScaleReading("1.30 g")
        )
        assert masses_g(bench) == pytest.approx({"patchouli": 0.50, "lavender": 0.80})
        again = bench.after(Drops("lavender", 1)).after(ScaleReading("1.35 g"))
        assert masses_g(again) == pytest.approx({"patchouli": 0.50, "lavender": 0.85})

    def test_a_doubtful_reading_is_called_doubtful(self):
        bench = bench_of(Drops("lavender", 20), ScaleReading("3.42 g"))
        assert "check reading" in bench.lines[-1].message

    def test_less_than_was_weighed_in_is_refused(self):
        bench = bench_of(Measured("patchouli", "0.5 g"), Drops("lavender", 1))
        with pytest.raises(BadNumber, match="set to zero"):
            bench.after(ScaleReading("0.4 g"))

    def test_only_weighed_things_are_compared_and_not_changed(self):
        bench = bench_of(Measured("patchouli", "0.50 g"), ScaleReading("0.50 g"))
        assert "Agrees" in bench.lines[-1].message
        bench = bench.after(ScaleReading("0.40 g"))
        assert "0.1 g less" in bench.lines[-1].message
        assert masses_g(bench) == pytest.approx({"patchouli": 0.50})

    @pytest.mark.parametrize("event", [ScaleReading("1 g"), ScaleReading("1 g", "lavender")])
    def test_nothing_to_weigh(self, event):
        with pytest.raises(BadNumber, match="not weighed yet"):
            bench_of().after(event)

    def test_a_volume_is_no_reading(self):
        with pytest.raises(BadNumber, match="such as"):
            bench_of(Drops("lavender", 1)).after(ScaleReading("1 mL"))


class TestSpill:
    def test_what_is_left_can_be_weighed(self):
        bench = bench_of(Drops("lavender", 20), Spilled("0.44375 g", LEFT))  # half of 0.8875 g
        assert bench.mixture.drops_now("lavender") == 10

    def test_more_than_there_is_is_refused(self):
        with pytest.raises(BadNumber, match="no more than is in the bottle"):
            bench_of(Drops("lavender", 2)).after(Spilled("1 mL"))

    def test_everything_may_be_lost(self):
        bench = bench_of(Drops("lavender", 20), Spilled("1 mL"))
        assert bench.mixture.volume_m3 == 0
        assert "empty" in describe_bottle(bench.mixture)[0]
        assert bench.mixture.filling().portions == ()


class TestUndo:
    def test_what_was_taken_back_stays_in_the_log_and_does_not_count(self):
        bench = bench_of(Drops("lavender", 3), Drops("patchouli", 2), Undo(2))
        assert masses_g(bench) == pytest.approx(masses_g(bench_of(Drops("patchouli", 2))))
        assert [line.counts for line in bench.lines] == [True, False, True, True]
        assert line_in_words(bench, bench.lines[-1]) == "Took back no. 2: + 3 drops of Lavender"

    def test_again_and_again_walks_back_to_the_empty_bottle(self):
        bench = bench_of(Drops("lavender", 3), Remark("sharp"), Drops("patchouli", 2))
        while bench.last:
            bench = bench.after(Undo(bench.last.number))
        assert bench.mixture.volume_m3 == 0
        assert len(bench.lines) == 7

    def test_what_makes_no_sense_without_it_is_said_and_comes_back_with_it(self):
        bench = bench_of(Drops("lavender", 20), Spilled("1 mL"), Drops("patchouli", 5))
        bench = bench.after(Undo(2))
        assert "Does not count" in bench.lines[2].message
        assert bench.mixture.drops_now("patchouli") == 5
        with pytest.raises(BadNumber, match="take back"):
            bench.after(Undo(2))

    @pytest.mark.parametrize("number", [0, 1, 2, 9, -1])
    def test_what_cannot_be_taken_back_is_refused(self, number):
        bench = bench_of(SavedAs("x", 1))
        with pytest.raises(BadNumber, match="take back"):
            bench.after(Undo(number))


additions = st.one_of(
    st.builds(Drops, st.sampled_from(["lavender", "patchouli"]), st.integers(1, 40)),
    st.builds(
        Measured,
        st.sampled_from(["bergamot-fcf", "jojoba"]),
        st.integers(1, 900).map(lambda mg: f"{mg / 1000:.3f} g"),
    ),
)
events = st.one_of(
    additions,
    st.builds(Spilled, st.integers(1, 30).map(lambda n: f"{n / 100} mL")),
    st.builds(ScaleReading, st.integers(1, 400).map(lambda n: f"{n / 100} g")),
    st.builds(Undo, st.integers(1, 12)),
)


@settings(deadline=None)
@given(st.lists(additions, max_size=12), st.randoms())
def test_the_order_of_additions_does_not_matter(given_events, random):
    shuffled = list(given_events)
    random.shuffle(shuffled)
    assert masses_g(bench_of(*shuffled)) == pytest.approx(masses_g(bench_of(*given_events)))


@settings(deadline=None)
@given(st.lists(events, max_size=12))
def test_the_log_replayed_from_its_rows_is_the_log_as_it_grew(given_events):
    grown, told = bench_of(), [Start(EMPTY)]
    for event in given_events:
        try:
            grown = grown.after(event)
        except BlendkitError:
            continue
        told.append(event)
    rows = json.loads(json.dumps([as_document(event) for event in told]))
    replayed = Bench.of([event_of(kind, document) for kind, document in rows])
    assert replayed.lines == grown.lines


@settings(deadline=None)
@given(st.lists(additions, min_size=1, max_size=8), st.lists(events, max_size=6))
def test_taking_the_last_back_leaves_the_bottle_as_before(first, then):
    bench = bench_of(*first)
    for event in then:
        try:
            after = bench.after(event)
        except BlendkitError:
            continue
        if not isinstance(event, Undo):
            undone = after.after(Undo(after.last.number))
            assert undone.mixture == bench.mixture
        bench = after


@settings(deadline=None)
@given(st.lists(additions, min_size=1, max_size=8), st.integers(1, 99))
def test_a_spill_changes_no_share(first, percent):
    bench = bench_of(*first)
    lost = bench.mixture.volume_m3 / ML * percent / 100
    after = bench.after(Spilled(f"{lost:.9g} mL", LOST)).mixture
    assert after.mass_fractions() == pytest.approx(bench.mixture.mass_fractions())


class TestForewarning:
    def test_the_drop_that_breaks_a_limit_is_named_before(self):
        # IFRA: bergamot at most 0.4 %; a drop of 0.05 mL in 10 mL is about 0.5 %
        said = preview_limits(bench_of().mixture, Drops("bergamot", 1))
        assert any(words.startswith("Bergamot (IFRA standards) would reach") for words in said)

    def test_what_is_broken_already_is_not_said_again(self):
        bench = bench_of(Drops("bergamot", 1))
        assert not preview_limits(bench.mixture, Drops("bergamot", 1))
        assert any(finding.verdict == "over" for finding in check_limits(bench.mixture))

    def test_a_carrier_that_passes_the_mark_is_named_before(self):
        bench = bench_of(Drops("lavender", 20))
        assert preview_limits(bench.mixture, Measured("jojoba", "9 mL")) == []
        assert preview_limits(bench.mixture, Measured("jojoba", "9.5 mL")) == [
            "It would pass the mark by 0.5 mL."
        ]

    def test_a_mark_passed_knowingly_is_asked_about_again_only_for_more_than_drops(self):
        over = bench_of(Drops("lavender", 20), Measured("jojoba", "9.5 mL")).mixture
        assert preview_limits(over, Drops("patchouli", 2)) == []
        assert preview_limits(over, Measured("jojoba", "1 mL")) == [
            "It would pass the mark by 1.5 mL."
        ]

    def test_nothing_is_forewarned_of_a_drop_within(self):
        assert preview_limits(bench_of().mixture, Drops("lavender", 1)) == []

    def test_an_empty_bottle_is_not_judged(self):
        assert check_limits(bench_of().mixture) == ()


class TestRecipe:
    def test_whole_drops_come_back_as_they_went_in(self):
        bench = bench_of(Drops("patchouli", 6), Drops("lavender", 4), Measured("jojoba", "5 g"))
        recipe = recipe_of(bench, "Kept (invented)")
        assert recipe.sentences == ()
        blend = Blend(recipe.document)
        filling = blend.bottle
        assert blend.oil_drops == {"patchouli": 6, "lavender": 4}
        for name, share in bench.mixture.mass_fractions().items():
            # a recipe writes its volumes to 0.001 mL, a fiftieth of a drop
            assert filling.mass_fractions()[name] == pytest.approx(share, rel=2e-4)
        assert filling.mass_kg == pytest.approx(bench.mixture.mass_kg, rel=2e-4)
        assert filling.actual_strength == pytest.approx(bench.mixture.strength, rel=2e-4)

    def test_without_carrier_it_is_counted_filled_up(self):
        recipe = recipe_of(bench_of(Drops("lavender", 4)), "x")
        assert "filled up to the mark" in recipe.sentences[0]
        assert Blend.from_dict(recipe.document).liquid_m3 == pytest.approx(10 * ML)

    def test_rounding_is_said_in_words(self):
        bench = bench_of(Measured("lavender", "0.35 g"), Measured("jojoba", "7 g"))
        # 0.35 / 0.8875 x 20 = 7.89 drops
        recipe = recipe_of(bench, "x")
        assert "Lavender 7.89 → 8 drops" in recipe.sentences[0]
        assert Blend.from_dict(recipe.document).oil_drops == {"lavender": 8}

    def test_a_bottle_filled_beyond_its_mark_is_kept_as_it_is(self):
        bench = bench_of(Drops("lavender", 20), Measured("jojoba", "9.5 mL"))
        blend = Blend.from_dict(recipe_of(bench, "x").document)
        assert blend.liquid_m3 == pytest.approx(10.5 * ML)

    def test_oils_alone(self):
        document = EMPTY | {"carriers": [], "strength": "100 %"}
        bench = bench_of(
            Drops("lavender", 7), Measured("patchouli", "0.1 g"), document=document
        )
        blend = Blend.from_dict(recipe_of(bench, "x").document)
        assert blend.oil_drops == {"lavender": 7, "patchouli": 3}  # 0.1 / 0.9615 x 25 = 2.60

    def test_an_empty_bottle_is_no_recipe(self):
        with pytest.raises(BadNumber, match="no oil"):
            recipe_of(bench_of(Measured("jojoba", "5 g")), "x")
        with pytest.raises(BadNumber, match="no oil"):
            rebalance(bench_of(Measured("jojoba", "5 g")).mixture)

    @settings(deadline=None)
    @given(st.lists(events, min_size=1, max_size=10))
    def test_every_bottle_with_oil_makes_a_recipe_that_reads(self, given_events):
        bench = bench_of(*given_events)
        if bench.mixture.oils_kg > 0:
            recipe = recipe_of(bench, "any (invented)")
            blend = Blend(recipe.document)
            assert sum(blend.oil_drops.values()) >= 1
            assert blend.strength_basis == "drops"


class TestBadInput:
    @pytest.mark.parametrize(
        "event",
        [
            Drops("lavender", 0),
            Drops("lavender", -1),
            Drops("lavender", 2.5),
            Drops("lavender", True),
            Drops("lavender", 10**9),
            Drops("jojoba", 1),
            Drops("lavendar", 1),
            Measured("lavender", "0.35"),
            Measured("lavender", ""),
            Measured("lavender", "-1 g"),
            Measured("lavender", "0 g"),
            Measured("lavender", "1e9 kg"),
            Measured("lavender", "nan g"),
            Measured("<script>", "1 g"),
            Spilled("1 mL", "somehow"),
            MixedIn("x", {}, "1 mL"),
            MixedIn("x", {"lavender": 0.5}, "1 mL"),
            MixedIn("x", {"lavender": 2.0, "jojoba": -1.0}, "1 mL"),
            Remark("  "),
            Remark("x" * 5000),
            Start(EMPTY),
        ],
    )
    def test_is_refused_in_words_and_changes_nothing(self, event):
        bench = bench_of(Drops("lavender", 3))
        with pytest.raises(BlendkitError):
            bench.after(event)

    def test_a_near_miss_is_suggested(self):
        with pytest.raises(UnknownMaterial, match="lavender"):
            bench_of().after(Drops("lavendar", 1))

    def test_amounts_stay_as_they_were_written(self):
        event = Measured("lavender", "0,350 g")
        assert event_of(*as_document(event)) == event

    @pytest.mark.parametrize("kind", sorted(KINDS))
    def test_damaged_rows_are_refused(self, kind):
        needs_nothing = {"start": {"document": {}}}
        with pytest.raises((BadNumber, BadBlend)):
            Bench.of([event_of(kind, needs_nothing.get(kind, {}))])

    def test_an_unknown_kind_is_refused_with_the_nearest(self):
        with pytest.raises(BadNumber, match="drops"):
            event_of("drop", {})

    def test_rows_of_a_log_that_make_no_sense_do_not_take_the_others_with_them(self):
        bench = bench_of(Drops("gone-oil", 3), Drops("lavender", 3), Undo(99), Undo(1))
        assert masses_g(bench) == pytest.approx(masses_g(bench_of(Drops("lavender", 3))))
        assert [line.counts for line in bench.lines] == [True, False, True, False, False]

    def test_ten_thousand_events(self):
        bench = bench_of(*[Drops("lavender", 1)] * 9_999)
        assert bench.mixture.drops_now("lavender") == 9_999
        assert len(bench.after(Undo(5000)).lines) == 10_001


def test_the_example_can_be_made_drop_by_drop():
    """The example's own drops, tapped one by one, make the bottle that the example asks for."""
    blend = Blend.from_dict(example_document())
    taps = [Drops(name, 1) for name, count in blend.oil_drops.items() for _ in range(count)]
    mixture = bench_of(*taps, document=example_document()).mixture.fill_up()
    wanted = drop_table(blend).set_index("material")["mass_g"]
    assert {name: mass / G for name, mass in mixture.masses_kg.items()} == pytest.approx(
        dict(wanted)
    )
