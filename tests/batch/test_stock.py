"""What is left on the shelf: bought, counted, taken down, and never quietly below nothing."""

from __future__ import annotations

import csv
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit import example_document
from blendkit.batch.master import master
from blendkit.batch.scaling import scale
from blendkit.batch.stock import (
    MORE_USED,
    NEVER_BOUGHT,
    Count,
    Layer,
    Purchase,
    Use,
    missing,
    split,
    stock,
    uses_of,
)
from blendkit.blend.blend import Blend
from blendkit.foundation.errors import BadNumber
from blendkit.foundation.units import to_si
from blendkit.materials.amounts import read_amount

OUNCES = (Path(__file__).parents[1] / "published" / "ounces.csv").read_text(encoding="utf-8")
INVENTED = Blend.from_dict(example_document())
DAY = datetime(2026, 5, 1, tzinfo=UTC)
ML = 1e-6


def bottle(ml, price=None, day=0, currency="EUR", bottles=1, material="lavender"):
    at = DAY + timedelta(days=day)
    return Purchase("", material, ml * ML, bottles, price, currency, at, None)


def used(ml, day, material="lavender"):
    return Use(material, ml * ML, DAY + timedelta(days=day), "invented")


def counted(ml, day, material="lavender"):
    return {material: Count("", material, ml * ML, DAY + timedelta(days=day))}


def left_ml(uses, bought, counts):
    return stock(uses, bought, counts)["lavender"].left_m3 / ML


class TestUnits:
    @pytest.mark.parametrize(
        "row",
        list(csv.DictReader(OUNCES.splitlines())),
        ids=lambda row: f"{row['text']} {row['grade']}",
    )
    def test_ounces_are_the_published_ones(self, row, beside_published):
        value = float(row["value"])
        half = float(row["printed_step"]) / 2
        beside_published(
            f"{row['text']} in {row['unit']}",
            to_si(row["text"], row["unit"], name="amount"),
            value,
            value - half,
            value + half,
            source=f"{row['source']} ({row['grade']})",
        )

    @pytest.mark.parametrize("text", ["1 fl oz", "1 fl. oz.", "1 floz", "1 FL OZ", "1floz"])
    def test_a_fluid_ounce_may_be_written_in_two_words(self, text):
        assert to_si(text, "m**3", name="pack") == to_si("1 floz", "m**3", name="pack")

    @pytest.mark.parametrize(
        ("text", "unit"), [("1 oz", "m**3"), ("1 fl oz", "kg"), ("2 floz", "kg")]
    )
    def test_an_ounce_of_the_other_kind_is_refused_by_its_dimension(self, text, unit):
        with pytest.raises(BadNumber, match=r"which is a (mass|volume)"):
            to_si(text, unit, name="pack")

    def test_a_bare_ounce_of_a_liquid_may_be_either_and_is_asked_back(self):
        with pytest.raises(BadNumber, match=r"weight or a fluid ounce.*29\.57 mL"):
            read_amount("1 oz", "jojoba", name="pack")

    @pytest.mark.parametrize("text", ["20 drops", "20", "0 mL", "-3 g", "", None, "2 h"])
    def test_drops_and_nothing_are_no_amount(self, text):
        with pytest.raises(BadNumber):
            read_amount(text, "jojoba", name="pack")

    def test_a_mass_becomes_a_volume_by_the_density_on_record(self):
        # jojoba 0.863 to 0.873 g/mL in data/carriers.csv, middle 0.868
        assert read_amount("86.8 g", "jojoba", name="pack") == pytest.approx(100e-6)


class TestStock:
    def test_what_was_bought_less_what_was_used(self):
        found = stock([used(3, 1), used(2, 2)], [bottle(10, 8, 0), bottle(5, 6, 3)], {})
        assert found["lavender"].left_m3 == pytest.approx(10e-6)
        assert found["lavender"].remark == ""

    def test_a_count_forgets_what_was_before_and_only_later_use_is_taken_off(self):
        bought = [bottle(10, 8, 0), bottle(5, 6, 9)]
        assert left_ml([used(3, 1), used(1, 6)], bought, counted(4, 5)) == pytest.approx(8)

    def test_more_used_than_bought_is_shown_and_said(self):
        found = stock([used(12, 1)], [bottle(10, 8, 0)], {})["lavender"]
        assert found.left_m3 == pytest.approx(-2e-6)
        assert found.remark == MORE_USED
        assert found.layers == ()
        assert stock([used(1, 1)], [], {})["lavender"].remark == NEVER_BOUGHT

    def test_a_count_sets_it_right(self):
        found = stock([used(12, 1)], [bottle(10, 8, 0)], counted(1, 2))["lavender"]
        assert found.left_m3 == pytest.approx(1e-6)
        assert found.remark == ""

    @pytest.mark.parametrize("amount", [-1.0, float("nan")])
    def test_less_than_nothing_is_refused_as_input(self, amount):
        with pytest.raises(BadNumber) as caught:
            stock([used(amount, 1)], [bottle(amount)], counted(amount, 1))
        assert len(caught.value.problems) == 3

    def test_the_oldest_bottle_is_used_up_first(self):
        found = stock([used(12, 9)], [bottle(10, 8, 0), bottle(10, 14, 1)], {})["lavender"]
        assert [layer.volume_m3 / ML for layer in found.layers] == [pytest.approx(8)]
        assert found.layers[0].price_per_m3 == pytest.approx(1.4e6)

    def test_after_a_count_it_is_the_newest_bottles_that_are_left(self):
        bought = [bottle(10, 8, 0), bottle(10, 14, 1)]
        layers = stock([], bought, counted(13, 5))["lavender"].layers
        assert [(round(x.volume_m3 / ML, 6), x.price_per_m3) for x in layers] == [
            (3, pytest.approx(8e5)),
            (10, pytest.approx(1.4e6)),
        ]

    def test_what_was_found_beyond_all_bottles_has_no_price(self):
        layers = stock([], [bottle(10, 8, 0)], counted(13, 5))["lavender"].layers
        assert layers[0].price_per_m3 is None
        assert layers[0].volume_m3 == pytest.approx(3e-6)

    @given(
        st.lists(st.tuples(st.floats(0, 50), st.integers(0, 30))),
        st.lists(st.tuples(st.floats(0.1, 50), st.integers(0, 30)), max_size=6),
        st.none() | st.tuples(st.floats(0, 90), st.integers(0, 30)),
    )
    def test_layers_add_up_to_what_is_left(self, uses, bottles, found):
        got = stock(
            [used(ml, day) for ml, day in uses],
            [bottle(ml, 5, day) for ml, day in bottles],
            counted(*found) if found else {},
        )
        if "lavender" not in got:
            assert not uses
            assert not bottles
            assert not found
            return
        row = got["lavender"]
        layers = sum(layer.volume_m3 for layer in row.layers)
        assert layers == pytest.approx(max(row.left_m3, 0), abs=1e-13)
        assert bool(row.remark) == (row.left_m3 < -1e-15)

    @given(st.lists(st.floats(0.01, 20), max_size=6), st.floats(0, 100))
    def test_a_split_loses_nothing(self, volumes, at):
        layers = [Layer(volume, None, None) for volume in volumes]
        first, rest = split(layers, at)
        whole = sum(volumes)
        assert sum(x.volume_m3 for x in first) == pytest.approx(min(at, whole), abs=1e-12)
        assert sum(x.volume_m3 for x in [*first, *rest]) == pytest.approx(whole, abs=1e-12)


class TestBatchesTakeDown:
    def test_a_batch_takes_what_it_measures_out(self):
        batch = scale(INVENTED, "8 × 10 mL")
        rows = {use.material: use.volume_m3 for use in uses_of(batch)}
        assert rows == {each.material: each.volume_m3 for each in batch.weighings}

    def test_a_master_takes_its_carriers_too(self):
        made = master(INVENTED, [("8 × 10 mL", "20 %")])
        rows = {use.material: use.volume_m3 for use in uses_of(made)}
        each = {row.material: row.volume_m3 for row in made.dilutions[0].carriers}
        assert rows["jojoba"] == pytest.approx(8 * each["jojoba"])
        assert set(rows) == {*INVENTED.oil_drops, *each}

    def test_what_is_missing_is_what_is_not_there(self):
        on_shelf = stock([], [bottle(10, 8, material="lavender")], {})
        lacking = missing([used(12, 0), used(3, 0, "patchouli")], on_shelf)
        assert lacking["lavender"] == pytest.approx(2e-6)
        assert lacking["patchouli"] == pytest.approx(3e-6)
        assert missing([used(9, 0)], on_shelf) == {}

    def test_a_negative_stock_is_not_bought_again(self):
        on_shelf = stock([used(12, 1)], [bottle(10, 8)], {})
        assert missing([used(3, 2)], on_shelf)["lavender"] == pytest.approx(3e-6)
