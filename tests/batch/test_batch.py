"""Making more: the composition is kept, the scale's error is told, and the worst is judged."""

from __future__ import annotations

import csv
import itertools
import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit import example_document
from blendkit.batch.bottles import Bottles, bottles_in_words, read_bottles
from blendkit.batch.master import MASTER, master
from blendkit.batch.scaling import scale
from blendkit.batch.weighing import (
    DROPS_UP_TO,
    Weighing,
    check_skin,
    largest_share,
    mass_fractions,
    weigh,
)
from blendkit.blend.blend import Blend
from blendkit.blend.filling import Portion
from blendkit.foundation.errors import BadNumber
from blendkit.skin.check import rules_in
from blendkit.skin.limits import findings_of

PUBLISHED = Path(__file__).parents[1] / "published"
INVENTED = Blend.from_dict(example_document())
FILLING = INVENTED.bottle
TOTALS = st.floats(1, 5000).map(lambda ml: f"{ml:.3f} mL")
STEPS = st.sampled_from(["0.001 g", "0.01 g", "0.1 g", "1 g"])


def skin_of(batch):
    return check_skin(batch.weighings, batch.blend)


few = settings(deadline=None, max_examples=25)


def published(name: str) -> list[dict[str, str]]:
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def grams(name: str, kg: float, step_kg: float, note: str = "top") -> Weighing:
    return Weighing(name, name, note, "grams", None, None, kg, kg, kg / 900, step_kg)


class TestBottles:
    @pytest.mark.parametrize(
        "text",
        [
            "8 × 10 mL + 4 × 30 mL",
            "8x10mL, 4x30mL",
            "8 X 10 ml and 4 * 3 cl",
            "5 x 10 mL; 4 x 30 mL + 3 x 10 mL",
        ],
    )
    def test_people_write_them_in_many_ways(self, text):
        assert read_bottles(text) == (Bottles(8, 1e-5), Bottles(4, 3e-5))

    def test_one_bottle_needs_no_count_and_a_comma_may_be_a_decimal_sign(self):
        assert read_bottles("7,5 mL") == (Bottles(1, 7.5e-6),)

    @given(st.lists(st.tuples(st.integers(1, 999), st.integers(1, 99)), min_size=1))
    def test_what_is_written_is_read_back(self, pairs):
        rows = read_bottles(" + ".join(f"{count} × {size} mL" for count, size in pairs))
        assert read_bottles(bottles_in_words(rows)) == rows
        assert sum(row.count for row in rows) == sum(count for count, _ in pairs)

    def test_every_bad_part_is_named_at_once(self):
        with pytest.raises(BadNumber) as caught:
            read_bottles("0 × 10 mL + 3 × 10 + 2 × 20 g + many")
        assert len(caught.value.problems) == 4

    @pytest.mark.parametrize("text", ["", "  ", "1e9 x 10 mL", "-3 x 10 mL", "3 x 0 mL"])
    def test_what_is_no_bottle_is_refused(self, text):
        with pytest.raises(BadNumber, match="bottles"):
            read_bottles(text)


@pytest.mark.parametrize("row", published("scale_uncertainty"))
def test_the_scales_uncertainty_is_the_published_one(row, beside_published):
    step, printed = float(row["step"]), float(row["standard_uncertainty"])
    half = float(row["printed_step"]) / 2 * (1 + 1e-6)
    beside_published(
        f"standard uncertainty of a reading, step {row['step']}",
        grams("oil", 100.0, step).standard_uncertainty_kg,
        printed,
        printed - half,
        printed + half,
        source=f"{row['source']} ({row['grade']})",
    )


class TestWeighing:
    @given(st.floats(0, 10), st.integers(1, 500), st.sampled_from([1e-6, 1e-5, 1e-4, 1e-3]))
    def test_what_is_measured_out_lies_within_half_a_step_or_half_a_drop(
        self, times, drops, step_kg
    ):
        portion = Portion("oil", "Oil", "top", drops, None, drops * 3e-8, drops * 3e-5)
        found = weigh(portion, times, step_kg)
        half = step_kg / 2 if found.way == "grams" else 3e-5 / 2
        assert abs(found.mass_kg - found.exact_mass_kg) <= half * (1 + 1e-6)
        readable = found.exact_mass_kg >= 0.5e-3 and found.exact_mass_kg * 0.01 >= step_kg / 2
        assert (found.way == "grams") == (readable or drops * times > DROPS_UP_TO)

    @pytest.mark.parametrize(
        ("mass_g", "step_g", "way"),
        [
            (0.49, 0.001, "drops"),
            (0.51, 0.01, "grams"),  # half a step is 0.98 % of it
            (0.51, 0.1, "drops"),
            (4.9, 0.1, "drops"),
            (5.1, 0.1, "grams"),
        ],
    )
    def test_a_mass_is_weighed_where_the_scale_reads_it_to_a_hundredth(
        self, mass_g, step_g, way
    ):
        portion = Portion("oil", "Oil", "top", 10, None, mass_g * 1e-6, mass_g * 1e-3)
        assert weigh(portion, 1.0, step_g * 1e-3).way == way

    def test_few_drops_are_counted_and_many_weighed(self):
        batch = scale(INVENTED, "12 × 10 mL", scale_step="0.1 g")
        ways = {each.material: each.way for each in batch.weighings}
        assert ways["geranium"] == "drops"  # 3 drops a bottle, 36 in all
        assert ways["bergamot-fcf"] == "grams"  # 11 a bottle, 132 in all
        assert ways["jojoba"] == "grams"

    @pytest.mark.parametrize(("count", "way"), [(2, "drops"), (5, "grams")])
    def test_a_scale_of_a_hundredth_gram_weighs_from_half_a_gram(self, count, way):
        batch = scale(INVENTED, f"{count} × 10 mL", scale_step="0.01 g")
        [geranium] = [each for each in batch.weighings if each.material == "geranium"]
        assert (geranium.exact_mass_kg >= 0.5e-3) is (way == "grams")  # 3 drops a bottle
        assert geranium.way == way

    def test_a_reading_shows_as_many_digits_as_the_scale_has(self):
        assert grams("oil", 0.0123, 1e-5).reading == "12.30 g"
        assert grams("oil", 0.012, 1e-3).reading == "12 g"
        assert grams("oil", 0.012, 5e-4).reading == "12.0 g"

    def test_smallest_first(self):
        masses = [each.exact_mass_kg for each in scale(INVENTED, "9 × 30 mL").weighings]
        assert masses == sorted(masses)

    def test_a_drop_has_no_error_of_the_scale(self):
        counted = scale(INVENTED, "2 × 10 mL").weighings[0]
        assert counted.way == "drops"
        assert counted.standard_uncertainty_kg == counted.half_step_percent == 0

    @given(
        st.lists(st.integers(0, 400), min_size=2, max_size=5),
        st.lists(st.floats(0, 5), min_size=5, max_size=5),
    )
    def test_the_worst_share_is_that_of_the_worst_corner_of_all(self, steps, weights):
        rows = [grams(str(place), n * 1e-4, 1e-4) for place, n in enumerate(steps)]
        counting = {str(place): weight for place, weight in enumerate(weights)}
        sides = itertools.product((-1, 1), repeat=len(rows))
        corners = [
            [max(row.mass_kg + side * 1e-4, 0) for row, side in zip(rows, signs, strict=True)]
            for signs in sides
        ]
        shares = [
            sum(counting[row.material] * kg for row, kg in zip(rows, corner, strict=True))
            / sum(corner)
            for corner in corners
            if sum(corner) > 1e-12
        ]
        assert largest_share(counting, rows) == pytest.approx(max(shares), rel=1e-9)


class TestScaling:
    @few
    @given(TOTALS, STEPS)
    def test_the_composition_is_kept_exactly(self, total, step):
        batch = scale(INVENTED, total=total, scale_step=step)
        exact = {each.material: each.exact_mass_kg for each in batch.weighings}
        for name, share in INVENTED.bottle.mass_fractions().items():
            assert exact[name] / batch.exact_mass_kg == pytest.approx(share, rel=1e-12)

    @few
    @given(st.integers(1, 40), st.integers(0, 40), STEPS)
    def test_mass_is_conserved(self, small, large, step):
        text = f"{small} × 10 mL" + (f" + {large} × 30 mL" if large else "")
        batch = scale(INVENTED, text, scale_step=step)
        poured_m3 = batch.filled_m3 - batch.rest_m3
        poured = poured_m3 * FILLING.mass_kg / FILLING.volume_m3
        assert batch.exact_mass_kg == pytest.approx(poured, rel=1e-12)
        assert batch.exact_mass_kg == pytest.approx(
            FILLING.mass_kg * (small + 3 * large), rel=1e-12
        )
        steps = 0.5 * batch.step_kg * len(batch.weighings)
        drops = 0.5 * sum(p.mass_kg / p.drops for p in FILLING.oils)
        assert abs(batch.mass_kg - batch.exact_mass_kg) <= steps + drops

    @few
    @given(st.integers(1, 200))
    def test_twice_the_bottles_want_twice_of_everything(self, count):
        once, twice = (scale(INVENTED, f"{n} × 10 mL") for n in (count, 2 * count))
        wanted = {each.material: each.exact_mass_kg for each in once.weighings}
        for each in twice.weighings:
            assert each.exact_mass_kg == pytest.approx(2 * wanted[each.material], rel=1e-12)

    def test_two_batches_make_what_one_of_both_makes(self):
        one, two = scale(INVENTED, "8 × 10 mL"), scale(INVENTED, "4 × 30 mL")
        both = scale(INVENTED, "8 × 10 mL + 4 × 30 mL")
        assert both.exact_mass_kg == pytest.approx(one.exact_mass_kg + two.exact_mass_kg)

    def test_one_bottle_is_the_bottle_itself(self):
        batch = scale(INVENTED, "1 × 10 mL", scale_step="0.1 g")
        drops = {each.material: each.drops for each in batch.weighings if each.way == "drops"}
        assert drops == INVENTED.oil_drops

    def test_the_loss_is_a_share_of_what_is_made(self):
        # 100 mL to fill with 20 % lost: 125 mL to make, by hand
        blend = Blend.from_dict({**example_document(), "headspace": "0 mL"})
        batch = scale(blend, "10 × 10 mL", loss="20 %")
        assert batch.volume_m3 == pytest.approx(125e-6)
        assert batch.filled_m3 == pytest.approx(100e-6)
        assert batch.rest_m3 == pytest.approx(0, abs=1e-15)

    def test_larger_bottles_keep_the_level(self):
        blend = Blend.from_dict({**example_document(), "headspace": "0.5 mL"})
        batch = scale(blend, "1 × 30 mL")
        assert batch.filled_m3 == pytest.approx(28.5e-6)  # as 9.5 of 10 mL

    def test_a_total_by_mass_is_that_mass(self):
        batch = scale(INVENTED, total="450 g", scale_step="0.001 g")
        assert batch.exact_mass_kg == pytest.approx(0.450, rel=1e-12)
        full = batch.bottles[0].count * FILLING.volume_m3
        assert batch.filled_m3 == pytest.approx(full + batch.rest_m3)

    @few
    @given(st.floats(0.5, 60), st.floats(0.5, 60), STEPS)
    def test_no_more_is_asked_for_than_there_is(self, lavender_ml, patchouli_ml, step):
        there = {"lavender": lavender_ml * 1e-6, "patchouli": patchouli_ml * 1e-6}
        limited = {name: f"{volume * 1e6:.6f} mL" for name, volume in there.items()}
        batch = scale(INVENTED, at_most=limited, scale_step=step)
        asked = {each.material: each for each in batch.weighings}
        for name, volume_m3 in there.items():
            assert asked[name].volume_m3 <= volume_m3 * (1 + 1e-6)
        drop_kg = {p.material: p.mass_kg / p.drops for p in FILLING.oils}

        def with_one_more(name):
            each = asked[name]
            # what is counted now would be weighed where there is a little more of it
            grain_kg = max(each.step_kg, 0.0 if each.way == "grams" else drop_kg[name])
            return each.volume_m3 * (1 + 1.5 * grain_kg / each.mass_kg)

        # a coarse scale may stop at the other one, which rounds up past amount available
        assert any(with_one_more(name) > volume_m3 for name, volume_m3 in there.items())

    def test_what_runs_out_first_decides(self):
        batch = scale(INVENTED, at_most={"lavender": "2 mL", "geranium": "0.3 mL"})
        # geranium: 6 drops of 0.05 mL at 3 a bottle; lavender would do for 8 bottles
        assert batch.limited_by == "geranium"
        assert batch.bottles == (Bottles(2, 1e-5),)
        assert "runs out first" in " ".join(batch.sentences)

    def test_everything_wrong_is_said_at_once(self):
        with pytest.raises(BadNumber) as caught:
            scale(INVENTED, "ten", scale_step="0 g", loss="60 %")
        assert len(caught.value.problems) == 3
        with pytest.raises(BadNumber) as caught:
            scale(INVENTED, at_most={"rose": "5 mL", "lavender": "5 drops"}, scale_step="x")
        assert len(caught.value.problems) == 3

    @pytest.mark.parametrize("total", ["0 mL", "-5 g", "500", "1e9 L", "10 cm", None])
    def test_a_total_that_is_none_is_refused(self, total):
        with pytest.raises(BadNumber):
            scale(INVENTED, total=total)

    def test_nothing_to_start_from_is_refused(self):
        with pytest.raises(BadNumber, match="amount available"):
            scale(INVENTED, at_most={})

    def test_what_the_scale_cannot_show_is_said(self):
        coarse = scale(INVENTED, total="3 mL", scale_step="10 g")
        assert "rounds to nothing" in " ".join(coarse.sentences)
        assert coarse.mass_fractions() is not None


class TestSkinOfABatch:
    def test_the_worst_is_never_better_than_what_was_measured(self):
        for step in ("0.01 g", "0.1 g", "1 g"):
            batch = scale(INVENTED, "12 × 10 mL", scale_step=step)
            worst = {(f.rule.rule_set, f.rule.subject): f.share for f in skin_of(batch)}
            measured = findings_of(rules_in(INVENTED), batch.mass_fractions())
            for finding in measured:
                share = worst[finding.rule.rule_set, finding.rule.subject]
                assert math.isnan(share) == math.isnan(finding.share)
                assert not share < finding.share * (1 - 1e-12)
            assert sum(finding.share > 0 for finding in measured) >= 8

    def test_a_batch_may_be_over_though_the_bottle_is_not(self):
        # Bergamot, IFRA_STD_087: 0.4 % by mass; a bottle just within, and a coarse scale
        document = {
            "bottle": "10 mL",
            "strength": "10 %",
            "note_parts": {"top": 1, "base": 1},
            "oils": [{"id": "bergamot", "drops": 1}, {"id": "cedarwood-atlas", "drops": 19}],
            "carriers": [{"id": "jojoba"}],
            "drops_per_ml": {"default": 20, "bergamot": 26},
        }
        blend = Blend.from_dict(document)
        planned = skin_of(scale(blend, "200 × 10 mL", scale_step="0.01 g"))
        coarse = skin_of(scale(blend, "200 × 10 mL", scale_step="10 g"))
        bergamot = next(f for f in planned if f.rule.subject == "Bergamot")
        worst = next(f for f in coarse if f.rule.subject == "Bergamot")
        assert bergamot.verdict == "within"
        assert worst.verdict == "over"

    def test_no_figure_is_never_a_pass(self):
        found = skin_of(scale(INVENTED, "12 × 10 mL"))
        # cedarwood and others have no limit on record
        assert {each.verdict for each in found} != {"within"}


class TestMaster:
    @few
    @given(st.integers(1, 60), st.sampled_from(["drops", "volume", "mass"]))
    def test_a_dilution_has_the_strength_asked_for(self, percent, basis):
        made = master(
            INVENTED, [("1 × 30 mL", f"{percent} %")], basis=basis, scale_step="0.001 g"
        )
        row = made.dilutions[0]
        exact = {each.material: each.exact_mass_kg for each in row.weighings}
        if basis == "mass":
            assert exact[MASTER] / sum(exact.values()) == pytest.approx(percent / 100)
        oils_m3 = sum(portion.volume_m3 for portion in FILLING.oils)
        density = sum(portion.mass_kg for portion in FILLING.oils) / oils_m3
        volume_m3 = exact[MASTER] / density
        if basis == "volume":
            assert volume_m3 / 30e-6 == pytest.approx(percent / 100)
        if basis == "drops":
            drops = volume_m3 / (oils_m3 / FILLING.oil_drops)
            assert drops / (30 * 20) == pytest.approx(percent / 100)

    def test_at_its_own_strength_it_is_the_blend_again(self):
        strength = f"{FILLING.strength_by_mass * 100:.12f} %"
        made = master(INVENTED, [("1 × 10 mL", strength)], basis="mass", scale_step="0.001 g")
        exact = {each.material: each.exact_mass_kg for each in made.dilutions[0].weighings}
        for portion in FILLING.carriers:
            assert exact[portion.material] == pytest.approx(portion.mass_kg, rel=1e-9)

    def test_the_master_is_all_that_its_dilutions_take_and_the_loss(self):
        made = master(INVENTED, [("8 × 10 mL", "20 %"), ("4 × 30 mL", "5 %")], loss="10 %")
        used = sum(row.master.exact_mass_kg * row.bottles.count for row in made.dilutions)
        assert sum(w.exact_mass_kg for w in made.weighings) * 0.9 == pytest.approx(used)
        assert {w.material for w in made.weighings} == set(INVENTED.oil_drops)
        shares = mass_fractions(made.weighings)
        oils = FILLING.strength_by_mass
        for name, share in shares.items():
            assert share == pytest.approx(FILLING.mass_fractions()[name] / oils, rel=0.02)

    @pytest.mark.parametrize("row", published("dilutions"))
    def test_twice_diluted_as_in_the_textbook(self, row, beside_published):
        # a molarity or a percent: the law is the same; the master itself counts as 100
        master_ml = float(row["before_concentration"]) / 100 * float(row["before_volume_ml"])
        after = float(row["after_concentration"])
        half = float(row["printed_step"]) / 2 * (1 + 1e-9)
        made = master(
            INVENTED,
            [(f"1 × {float(row['after_volume_ml'])} mL", f"{after} %")],
            basis="volume",
            scale_step="0.001 g",
        )
        ours_ml = made.volume_m3 * 1e6
        got = after * master_ml / ours_ml
        what = f"dilution to {row['after_volume_ml']} mL"
        beside_published(what, got, after, after - half, after + half, source=row["source"])

    def test_each_dilution_is_judged_by_itself(self):
        document = {**example_document(), "drops_per_ml": 20}
        document["oils"] = [{"id": "bergamot"}, *document["oils"][1:]]
        made = master(
            Blend.from_dict(document), [("1 × 10 mL", "20 %"), ("1 × 10 mL", "0.5 %")]
        )
        strong, weak = made.dilutions
        assert any(finding.is_over for finding in strong.worst)
        assert not any(finding.is_over for finding in weak.worst)
        held = mass_fractions(weak.weighings)
        share = held.pop(MASTER)
        held |= {name: part * share for name, part in mass_fractions(made.weighings).items()}
        as_weighed = findings_of(rules_in(Blend.from_dict(document)), held)
        measured, worst = (
            {(one.rule.rule_set, one.rule.subject): one.share for one in found}
            for found in (as_weighed, weak.worst)
        )
        assert set(measured) == set(worst)
        for subject, share in measured.items():
            assert math.isnan(worst[subject]) == math.isnan(share)
            assert not worst[subject] < share
        assert max(worst.values()) > 0

    def test_what_cannot_be_made_is_said_at_once(self):
        with pytest.raises(BadNumber) as caught:
            master(INVENTED, [("8", "20 %"), ("1 × 10 mL", "0 %"), ("1 × 10 mL", "5 mL")])
        assert len(caught.value.problems) == 3
        with pytest.raises(BadNumber, match="dilutions"):
            master(INVENTED, [])
        with pytest.raises(BadNumber, match="strength_basis"):
            master(INVENTED, [("1 × 10 mL", "5 %")], basis="volumes")
