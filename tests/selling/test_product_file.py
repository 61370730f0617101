"""Product file: facts with their grades, never an assessment; names and cells defused."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from datetime import date
from pathlib import PurePosixPath

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from blendkit import Blend, example_document
from blendkit.blend.market import regions
from blendkit.foundation import data
from blendkit.foundation.errors import BadNumber
from blendkit.journal.records import BatchRow
from blendkit.selling.batch_record import BatchRecord
from blendkit.selling.papers import Look
from blendkit.selling.product_file import (
    MOST_BYTES,
    MOST_FILES,
    NOTICE,
    certificate_name,
    formula_of,
    pack,
    points_of,
    product_file,
)

NAME = "<script>alert(1)</script> Quay (invented)"
INVENTED = Blend.from_dict(example_document() | {"name": NAME})
# Regulation (EC) No 1223/2009, Annex I, headings, as the UK legislation site prints the EU text
PART_A = (
    "Quantitative and qualitative composition of the cosmetic product",
    "Physical/chemical characteristics and stability of the cosmetic product",
    "Microbiological quality",
    "Impurities, traces, information about the packaging material",
    "Normal and reasonably foreseeable use",
    "Exposure to the cosmetic product",
    "Exposure to the substances",
    "Toxicological profile of the substances",
    "Undesirable effects and serious undesirable effects",
    "Information on the cosmetic product",
)
PART_B = (
    "Assessment conclusion",
    "Labelled warnings and instructions of use",
    "Reasoning",
    "Assessor's credentials and approval of part B",
)


def record(words="=HYPERLINK(1)"):
    batch = BatchRow(version_id="v", lot="@SUM(A1)", made_on=date(2026, 3, 2))
    look = Look(date(2026, 4, 2), "gold", "clear", "", words)
    return BatchRecord(NAME, batch, "3 × 10 mL", (), ("spilled",), (), {}, (), (look,), 0)


def members(file, pages=None, certificates=()):
    with zipfile.ZipFile(io.BytesIO(pack(file, pages or {}, certificates))) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


class TestFacts:
    def test_the_formula_is_the_whole_bottle(self):
        formula = formula_of(INVENTED)
        assert formula["percent_by_mass"].sum() == pytest.approx(100)
        fractions = INVENTED.bottle.mass_fractions()
        assert sorted(formula["percent_by_mass"] / 100) == pytest.approx(
            sorted(fractions.values())
        )
        assert set(formula["function"]) == {"perfuming", "emollient, solvent"}
        assert (formula["cas"] != "").all()

    def test_a_material_without_a_number_is_named_as_a_gap(self):
        ids = data.table("oils").query("cas == ''")["id"]
        oils = [{"id": ids.iloc[0], "note": "top"}]
        document = example_document() | {"oils": oils, "note_parts": {"top": 1}}
        file = product_file(Blend.from_dict(document), "x", [])
        assert any("no CAS number" in gap for gap in file.gaps)

    @pytest.mark.parametrize("region", ["EU", "UK"])
    def test_the_points_are_the_headings_of_annex_i(self, region):
        points = points_of(region).set_index("part")["asks"]
        assert tuple(points[[f"A {n}" for n in range(1, 11)]]) == PART_A
        assert tuple(points[[f"B {n}" for n in range(1, 5)]]) == PART_B
        assert points_of(region).query("part.str.startswith('B')")["adds"].eq("assessor").all()

    @pytest.mark.parametrize("region", regions())
    def test_every_market_has_points_or_says_that_they_are_a_guide(self, region):
        file = product_file(
            INVENTED.with_(market={"region": region, "use": "perfume oil"}), "x", []
        )
        assert len(file.tables["to_add"]) >= 2
        assert file.is_guide == (region == "other")

    def test_limits_keep_what_is_on_no_record(self):
        limits = product_file(INVENTED, "x", []).tables["limits"]
        assert "no limit on record" in set(limits["verdict"])
        assert (limits["figure_basis"] != "").all()


class TestZip:
    def test_it_says_first_that_it_is_no_assessment(self):
        found = members(product_file(INVENTED, NAME, []))
        assert next(iter(found)) == "README.txt"
        assert found["README.txt"].decode().startswith(NOTICE)
        assert NOTICE.startswith("This is no safety assessment.")

    def test_no_cell_begins_a_formula(self):
        found = members(product_file(INVENTED, NAME, [record()]))
        tables = [name for name in found if name.endswith(".csv")]
        assert len(tables) == 7
        for name in tables:
            for row in csv.reader(io.StringIO(found[name].decode("utf-8-sig"))):
                assert not [cell for cell in row if re.match(r"\s*[=+\-@]", cell)], name
        assert "'=HYPERLINK(1)" in found["stability.csv"].decode()

    def test_certificates_are_stored_as_they_are(self):
        given = [("lavender A12.pdf", b"%PDF \x00\xff"), ("lavender A12.pdf", b"")]
        content = pack(product_file(INVENTED, "x", []), {}, given)
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            infos = [one for one in packed.infolist() if one.filename.startswith("cert")]
            assert [packed.read(one) for one in infos] == [content for _, content in given]
        assert len({one.filename for one in infos}) == 2
        assert {one.compress_type for one in infos} == {zipfile.ZIP_STORED}

    @given(st.text(), st.integers(1, MOST_FILES))
    @example("../../etc/passwd", 1)
    @example("C:\\Windows\\a.exe.", 2)
    @example("CON.txt", 3)
    @example("x" * 400 + "." + "y" * 400, 4)
    @example("\u202efdp.exe\x00", 5)
    def test_no_name_leaves_its_folder(self, name, number):
        found = certificate_name(number, name)
        folder, file = PurePosixPath(found).parts
        assert folder == "certificates"
        assert re.fullmatch(rf"{number:02} [\w -]+(\.[A-Za-z0-9]{{0,8}})?", file)
        assert len(file.encode()) < 140

    @pytest.mark.parametrize(
        "certificates",
        [[("a.pdf", bytes(MOST_BYTES + 1))], [("a.pdf", b"")] * (MOST_FILES + 1)],
    )
    def test_too_much_is_refused(self, certificates):
        with pytest.raises(BadNumber, match="at most"):
            pack(product_file(INVENTED, "x", []), {}, certificates)
