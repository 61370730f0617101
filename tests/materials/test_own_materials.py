"""What a maker adds: analysed lots, the shelf, and where every figure came from."""

from __future__ import annotations

import contextlib
import math
import subprocess
import sys
from dataclasses import replace

import pytest

from blendkit import (
    BadNumber,
    Blend,
    UnknownMaterial,
    drop_table,
    example_document,
    keep_lot,
    oils,
    provenance,
    read_analysis,
)
from blendkit.journal.records import LotRow
from blendkit.journal.rows import BadRecord
from blendkit.journal.store import now
from blendkit.keeping.open_store import the_journal
from blendkit.materials import catalogue
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
        assert sum(share.typical for share in own.composition) == pytest.approx(0.691)
        assert own.unidentified_fraction == pytest.approx(1 - 0.691)  # the unmatched 1.2 % too
        document = example_document()
        document["oils"][2]["id"] = own.id
        assert own.id in set(drop_table(Blend.from_dict(document))["material"])

    def test_it_goes_to_the_store_and_never_into_the_shipped_data(self):
        before = len(catalogue.shipped_oils())
        keep_lot("lavender", "A12", ANALYSIS)
        assert len(catalogue.shipped_oils()) == before
        (row,) = the_journal().all(LotRow)
        assert (row.oil, row.lot) == ("lavender", "A12")
        assert row.analysis["percents"]["78-70-6"] == [36.1, 36.1, 36.1]
        assert row.analysis["unmatched"] == {"Unobtainium": 1.2}

    def test_looking_begins_no_store(self, own_folder):
        assert len(oils()) == len(catalogue.shipped_oils())
        assert not own_folder.exists()

    def test_the_table_of_oils_has_it_as_its_last_row(self):
        own = keep_lot("lavender", "A12", ANALYSIS)
        table = oils()
        assert table.index[-1] == own.id
        assert table.index.is_unique
        assert table.loc[own.id, "name"] == own.name
        assert table.loc[own.id, "inci"] == table.loc["lavender", "inci"]

    def test_another_process_sees_it_without_asking(self, own_folder):
        """In a notebook and in a plain program alike: importing the package is enough."""
        keep_lot("lavender", "A12", ANALYSIS)
        program = "import blendkit as bk; print(bk.oils().index[-1])"
        found = subprocess.run(
            [sys.executable, "-c", program], capture_output=True, text=True, check=True
        )
        assert found.stdout.strip() == "lavender@A12"

    def test_the_newest_analysis_of_a_lot_counts_and_the_older_stays(self):
        keep_lot("lavender", "A12", ANALYSIS)
        keep_lot("lavender", "A12", read_analysis("Linalool 50"))
        assert catalogue.oil("lavender@A12").composition[0].typical == 0.5
        assert the_journal().count(LotRow) == 2

    def test_a_lot_that_is_not_here_is_never_answered_with_the_shipped_oil(self):
        with pytest.raises(UnknownMaterial, match="Import an export of the store"):
            catalogue.oil("lavender@A13")
        keep_lot("lavender", "A12", ANALYSIS)
        with pytest.raises(UnknownMaterial, match='Did you mean "lavender@A12"'):
            catalogue.oil("lavender@A13")

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
        row = LotRow(oil="lavender", lot="B", analysis={"percents": percents}, kept_at=now())
        with contextlib.suppress(BadRecord):  # NaN does not even get in
            the_journal().add(row, replace(row, analysis={}), replace(row, oil="moonbeam"))
        assert [name for name in catalogue.oil_ids() if "@" in name] == ["lavender@A12"]

    @pytest.mark.parametrize("lot", ["", "   "])
    def test_a_lot_needs_a_name(self, lot):
        with pytest.raises(BadNumber, match="lot"):
            keep_lot("lavender", lot, ANALYSIS)

    def test_only_shipped_oils_have_lots(self):
        with pytest.raises(UnknownMaterial, match="lavender"):
            keep_lot("lavendar", "A12", ANALYSIS)


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
