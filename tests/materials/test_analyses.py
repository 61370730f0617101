"""Suppliers' analyses, in the shapes people copy them in. All of them are invented."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit import BadAnalysis, constituents, read_analysis
from blendkit.foundation.errors import BlendkitError
from blendkit.materials.analyses import Amount
from blendkit.materials.constituents import match, plain_name

NAMES = constituents()["name"]


def named(analysis) -> dict[str, Amount]:
    return {NAMES[key]: amount for key, amount in analysis.amounts.items()}


def test_text_out_of_a_pdf_with_numbers_times_and_decimal_commas():
    found = read_analysis(
        """Certificate of analysis (invented)     Lavender oil     Lot QL-77
        No  RT     Constituent               Area %
        1   8.12   α-Pinene ............... 0,31
        2   10.40  1,8-Cinéole              0,9
        3   11.02  (Z)-β-Ocimène            3,1 - 4,2
        4   12.61  Linalol                  35,8
        5   15.90  Acétate de linalyle      33,1
        6   13.20  Camphre                  tr
        7   17.00  Lavandulyl acetate       < 4
        8   25.10  Unbekannt 12             1,1
               Total                        97,9"""
    )
    assert named(found) == {
        "alpha-pinene": Amount(0.31, 0.31, 0.31),
        "1,8-cineole": Amount(0.9, 0.9, 0.9),
        "(Z)-beta-ocimene": Amount(3.1, pytest.approx(3.65), 4.2),
        "linalool": Amount(35.8, 35.8, 35.8),
        "linalyl acetate": Amount(33.1, 33.1, 33.1),
        "lavandulyl acetate": Amount(0, 0, 4),
    }
    assert [NAMES[key] for key in found.not_quantified] == ["camphor"]
    assert "Named without a figure: camphor." in str(found)
    assert found.unmatched == {"Unbekannt 12": Amount(1.1, 1.1, 1.1)}
    assert found.unmatched_percent == pytest.approx(1.1)
    assert "Unbekannt 12 1.1 %" in str(found)


def test_a_table_with_semicolons_bounds_and_a_name_that_is_a_sum():
    found = named(
        read_analysis(
            "Component;CAS;Min %;Max %;Result\n"
            "Citral;5392-40-5;65;85;74,6\n"
            "d-Limonene;5989-27-5;2;9;5,1\n"
            "Geraniol;106-24-1;;;2,2\n"
        )
    )
    assert found["limonene"] == Amount(2, 5.1, 9)
    assert found["geraniol"] == Amount(2.2, 2.2, 2.2)
    citral = found["neral"] + found["geranial"]
    assert (citral.low, citral.typical, citral.high) == pytest.approx((65, 74.6, 85))


@pytest.mark.parametrize(
    ("cells", "amount"),
    [
        ("65;85;90", Amount(65, 90, 90)),
        ("65;85;50", Amount(50, 50, 85)),
        ("65;;2", Amount(2, 2, 65)),
        (";3;9", Amount(0, 9, 9)),
        ("85;65;70", Amount(65, 70, 85)),
        ("85;65;", Amount(65, 75, 85)),
    ],
)
def test_what_was_found_counts_also_outside_the_bounds(cells, amount):
    found = named(read_analysis(f"Component;Min %;Max %;Result\nGeraniol;{cells}\n"))
    assert found["geraniol"] == amount


def test_cells_out_of_a_spreadsheet_matched_by_number_where_the_name_is_unknown():
    found = named(
        read_analysis(
            "Identification\tCAS No\tFound\n"
            "Patchouli alcohol\t5986-55-0\t31.4 %\n"
            "what the still calls it\t3691-11-0\t17.2 %\n"
            "Pogostone\t23800-56-8\ttrace\n"
        )
    )
    assert found["patchoulol"].typical == 31.4
    assert found["alpha-bulnesene"].typical == 17.2


def test_commas_between_cells_and_inside_a_quoted_name():
    found = named(
        read_analysis(
            'Name,CAS number,Min,Max\n"1,8-cineole",470-82-6,70,85\nalpha pinene,80-56-8,tr,4\n'
        )
    )
    assert found["1,8-cineole"] == Amount(70, 77.5, 85)
    assert found["alpha-pinene"] == Amount(0, 2, 4)


def test_a_table_copied_with_upright_strokes():
    found = named(read_analysis("| Component | % |\n|---|---|\n| Linalool | 35,1 |\n"))
    assert found == {"linalool": Amount(35.1, 35.1, 35.1)}


def test_a_constituent_on_two_lines_is_summed():
    found = named(read_analysis("Limonene 40\n(+)-Limonene 20\n"))
    assert found["limonene"].typical == 60


@pytest.mark.parametrize("suffix", [".txt", ".csv"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252"])
def test_files_as_spreadsheets_save_them(tmp_path, suffix, encoding):
    file = tmp_path / f"analysis{suffix}"
    file.write_bytes("Limonène;30,5\nCamphre;1,2\n".encode(encoding))
    assert set(named(read_analysis(file))) == {"limonene", "camphor"}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no line with an amount"),
        ("nothing here", "no line with an amount"),
        ("Linalool 60\nLinalyl acetate 60", "120.0 %"),
        ("Moonbeam 40\nStardust 50", "Moonbeam"),
        ("x" * 300_000, "characters"),
        ("x" * 150_000, "characters"),  # more than Python's csv takes in one cell
        ("x" * 99_999, "no line with an amount"),
        ("Linalool 5" + " " * 20_000 + "x", "line 1.*words behind"),  # and in no time
        ("Name\tPercent\nLinalool\t5" + " " * 20_000 + "x", "one amount in this cell"),
        ("d " * 499 + "5\nLinalool 1 2", "line 2"),
        ("d " * 40_000 + "5", "in one line"),
        ("a\n" * 6_000, "6000 lines"),
        ("Linalool 1 - 150", "up to 150 %"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(text, words):
    with pytest.raises(BadAnalysis, match=words):
        read_analysis(text)


def test_a_missing_file_is_refused_in_words(tmp_path):
    with pytest.raises(BadAnalysis, match="can be read"):
        read_analysis(tmp_path / "gone.csv")


@given(st.text(max_size=400))
def test_any_text_is_read_or_refused(text):
    try:
        found = read_analysis(text)
    except BlendkitError:
        return
    assert found.matched_percent + found.unmatched_percent <= 105


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("α-Pinène", "alpha-pinene"),
        ("LINALOOL", "linalool"),
        ("(E)-cinnamaldehyde", "cinnamaldehyde"),
        ("Cinnamal", "cinnamaldehyde"),
        ("eucalyptol", "1,8-cineole"),
        ("p-Cymene", "p-cymene"),
        ("4-terpineol", "terpinen-4-ol"),
    ],
)
def test_usual_spellings_are_known(written, meant):
    found = match(written)
    assert found is not None
    assert plain_name(found.name) in {plain_name(meant), "e" + plain_name(meant)}


def test_a_near_miss_is_not_guessed():
    assert match("linaloool") is None
