"""What a maker adds: analysed lots, the shelf, and where every figure came from."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta, timezone

import pytest

from blendkit import (
    BadNumber,
    Blend,
    UnknownMaterial,
    drop_table,
    example_document,
    keep_lot,
    provenance,
    read_analysis,
)
from blendkit.foundation import keep
from blendkit.materials import catalogue, shelf
from blendkit.materials.search import find

ANALYSIS = read_analysis("Linalool 36.1\nLinalyl acetate 33.0\nCamphor tr\nUnobtainium 1.2")


pytestmark = pytest.mark.usefixtures("own_folder")


class TestLots:
    def test_a_lot_takes_the_place_of_the_typical_oil_where_it_is_chosen(self):
        own, shipped = keep_lot("lavender", " A  12 ", ANALYSIS), catalogue.oil("lavender")
        assert own.id == "lavender@A 12"
        assert own.based_on == "lavender"
        assert (own.inci, own.note, own.density_kg_per_m3) == (
            shipped.inci,
            shipped.note,
            shipped.density_kg_per_m3,
        )
        assert sum(share.typical for share in own.composition) == pytest.approx(0.6915)
        assert own.unidentified_fraction == pytest.approx(1 - 0.6915)  # the unmatched 1.2 % too
        document = example_document()
        document["oils"][2]["id"] = own.id
        assert own.id in set(drop_table(Blend.from_dict(document))["material"])

    def test_it_goes_to_the_makers_folder_and_never_into_the_shipped_data(self, own_folder):
        before = len(catalogue.shipped_oils())
        keep_lot("lavender", "A12", ANALYSIS)
        assert len(catalogue.shipped_oils()) == before
        assert [file.parent.name for file in own_folder.rglob("*.json")] == ["lots"]

    def test_the_newest_analysis_of_a_lot_counts_and_the_older_stays(self, own_folder):
        keep_lot("lavender", "A12", ANALYSIS)
        keep_lot("lavender", "A12", read_analysis("Linalool 50"))
        assert catalogue.oil("lavender@A12").composition[0].typical == 0.5
        assert len(list((own_folder / "lots").glob("*.json"))) == 2

    def test_a_lot_that_is_gone_is_said_with_the_nearest_known(self):
        with pytest.raises(UnknownMaterial, match="lavender"):
            catalogue.oil("lavender@A13")

    def test_a_damaged_lot_does_not_take_the_shelf_with_it(self):
        keep_lot("lavender", "A12", ANALYSIS)
        keep.save("lots", "broken", {"oil": "lavender", "lot": 1})
        keep.save("lots", "unknown", {"oil": "moonbeam", "lot": "x", "percents": {}})
        assert "lavender@A12" in catalogue.oil_ids()

    @pytest.mark.parametrize(
        "percents",
        [
            [1], None, {}, {"78-70-6": [math.nan] * 3}, {"78-70-6": [-5, -2, 0]},
            {"78-70-6": [5, 2, 1]}, {"78-70-6": [60, 60, 60], "76-22-2": [60, 60, 60]},
            {"78-70-6": [1, 2, math.inf]}, {"78-70-6": ["1", "2", "3"]}, {"78-70-6": 3},
        ],
    )  # fmt: skip
    def test_a_lot_whose_shares_are_none_is_passed_by(self, percents):
        """A share that is no number would make every limit look kept."""
        keep_lot("lavender", "A12", ANALYSIS)
        keep.save("lots", "b", {"oil": "lavender", "lot": "B", "percents": percents})
        assert [name for name in catalogue.oil_ids() if "@" in name] == ["lavender@A12"]

    @pytest.mark.parametrize("lot", ["", "   "])
    def test_a_lot_needs_a_name(self, lot):
        with pytest.raises(BadNumber, match="lot"):
            keep_lot("lavender", lot, ANALYSIS)

    def test_only_shipped_oils_have_lots(self):
        with pytest.raises(UnknownMaterial, match="lavender"):
            keep_lot("lavendar", "A12", ANALYSIS)


class TestShelf:
    def test_the_newest_word_on_each_matter_counts(self):
        shelf.enter("lavender", price=12.5, currency="EUR", opened_on="2026-02-01")
        shelf.enter("lavender", price=11, drops_per_ml=26.5)
        entry = shelf.owned()["lavender"]
        assert entry.price == 11
        assert entry.drops_per_ml == 26.5
        assert entry.opened_on == date(2026, 2, 1)
        assert entry.bottle_ml is None

    def test_every_problem_is_said_at_once(self):
        with pytest.raises(BadNumber) as caught:
            shelf.enter("lavender", price=0, opened_on="soon", colour="blue")
        told = str(caught.value)
        assert "price" in told
        assert "opened_on" in told
        assert "colour" in told

    def test_a_hand_edited_file_cannot_break_the_shelf(self):
        keep.save("shelf", "lavender", {"oil": "lavender", "price": "much", "opened_on": 7})
        assert shelf.owned()["lavender"].price is None

    @pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31", "1968-12-31"])
    def test_a_day_that_no_clock_reaches_is_refused_or_passed_by(self, day):
        for matter in ("opened_on", "bought_on"):
            with pytest.raises(BadNumber, match="a date from 1969 on"):
                shelf.enter("lavender", bottle_ml=10, **{matter: day})
        edited = {"oil": "lavender", "written": f"{day}T00:00:00+14:00"}
        bottle = {"bottle_ml": 10, "opened_on": day, "bought_on": day}
        keep.save("shelf", "a", {**edited, **bottle})
        keep.save("shelf", "b", {**edited, "left_ml": 3, "counted_on": day})
        (bottle,) = shelf.bought()
        assert bottle.opened_on is None
        for at in (bottle.at, shelf.counts()["lavender"].at):
            assert at.astimezone(timezone(timedelta(hours=-12)))  # as panels show it

    def test_a_moment_counts_as_its_day(self):
        shelf.enter("lavender", bottle_ml=10, opened_on=datetime(2026, 2, 1, 9, tzinfo=UTC))
        assert shelf.owned()["lavender"].opened_on == date(2026, 2, 1)


class TestProvenance:
    def test_every_share_of_an_oil_has_source_and_grade(self):
        table = provenance("lavender")
        shares = table[table["figure"].str.startswith("share of")]
        assert len(shares) == len(catalogue.oil("lavender").composition)
        assert (table["source"] != "").all()
        assert (table["grade"] != "").all()

    def test_where_sources_disagree_both_stand_and_one_is_used(self):
        table = provenance("linalool")
        pressures = table[table["figure"].str.startswith("vapour pressure")]
        assert len(pressures) > 1
        assert list(pressures["used"]).count("yes") == 1

    def test_a_carrier_and_an_own_lot_are_known_too(self):
        keep_lot("lavender", "A12", ANALYSIS)
        assert "own analysis of lot A12" in " ".join(provenance("lavender@A12")["source"])
        assert "iodine value low" in set(provenance("jojoba")["figure"])

    def test_figures_of_one_row_have_their_own_sources(self):
        table = provenance("safflower-high-oleic").set_index("figure")
        assert table.loc["density low", "grade"] == "read"
        assert "Codex" in table.loc["density low", "source"]
        assert table.loc["mean molar mass", "grade"] == "part-read"
        assert table.loc["shelf life months low", "grade"] == "memory"

    def test_an_unknown_name_is_answered_with_the_nearest(self):
        with pytest.raises(UnknownMaterial, match="lavender"):
            provenance("lavendar")


class TestPalette:
    def test_all_words_note_and_family_must_be_met(self):
        found = find("cedarwood", note="base", family="woody")
        assert {oil.id for oil in found} == {"cedarwood-atlas", "cedarwood-virginia"}

    def test_most_volatile_first_and_unanalysed_last(self):
        oils = find()
        known = [oil.composition_known for oil in oils]
        assert known == sorted(known, reverse=True)
        pressures = [
            catalogue.mean_vapour_pressure_pa(oil) for oil in oils if oil.composition_known
        ]
        assert pressures == sorted(pressures, reverse=True)
