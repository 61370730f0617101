"""Lines as certificates print them: read as a person reads them, or asked about."""

from __future__ import annotations

import time
import tracemalloc

import pytest

import blendkit as bk
from blendkit import BadAnalysis, constituents, keep_lot, read_analysis
from blendkit.foundation.errors import BadNumber
from blendkit.foundation.units import registry
from blendkit.materials.analyses import Amount
from blendkit.materials.constituents import contradict, match_shares

NAMES = constituents()["name"]
REST = "\nLimonene 10"


def amounts(text, **how):
    found = read_analysis(text, **how)
    return {NAMES[key]: amount for key, amount in found.amounts.items()}


@pytest.mark.parametrize(
    ("line", "name", "low", "typical", "high"),
    [
        ("Eugenol 97-53-0 82.1 ± 0.4", "eugenol", 81.7, 82.1, 82.5),
        ("Eugenol 97-53-0 82,1 +/- 0,4 %", "eugenol", 81.7, 82.1, 82.5),
        ("Eugenol (97-53-0) 82.1", "eugenol", 82.1, 82.1, 82.1),
        ("Eugenol [CAS No. 97 - 53 - 0] 82.1 %", "eugenol", 82.1, 82.1, 82.1),
        ("97-53-0,Eugenol,82.1", "eugenol", 82.1, 82.1, 82.1),
        ("what the label calls it 97-53-0 82.1", "eugenol", 82.1, 82.1, 82.1),
        ("12. Linalool 34.2", "linalool", 34.2, 34.2, 34.2),
        ("#12: Linalool ........ 34.2", "linalool", 34.2, 34.2, 34.2),
        ("- Linalool - 34.2 %", "linalool", 34.2, 34.2, 34.2),
        ("34.2 % Linalool", "linalool", 34.2, 34.2, 34.2),
        ("8.12 Linalool 1102 34.2 %", "linalool", 34.2, 34.2, 34.2),
        ("Linalool 34.2*", "linalool", 34.2, 34.2, 34.2),
        ("Linalool (34.2 %)", "linalool", 34.2, 34.2, 34.2),
        ("Linalool 34.2 % (w/w)", "linalool", 34.2, 34.2, 34.2),
        ("Linalool .35 %", "linalool", 0.35, 0.35, 0.35),
        ("Linalool 350 ppm", "linalool", 0.035, 0.035, 0.035),
        ("Linalool 1.2–3.4", "linalool", 1.2, 2.3, 3.4),
        ("Linalool 1.2 - 3.4 %", "linalool", 1.2, 2.3, 3.4),
        ("Linalool max. 0.5", "linalool", 0, 0.25, 0.5),
        ("Linalool tr - 0.5", "linalool", 0, 0.25, 0.5),
        ("Linalool ≤ 0,5 %", "linalool", 0, 0, 0.5),
        ("Linalool <0.05", "linalool", 0, 0, 0.05),
        ("Linalool 0.00", "linalool", 0, 0, 0.005),
        ("1,8-cineole 5.2", "1,8-cineole", 5.2, 5.2, 5.2),
        ("Cineole 1,8 5.2", "1,8-cineole", 5.2, 5.2, 5.2),
        ("2-methylbutyl angelate 5.2", "2-methylbutyl angelate", 5.2, 5.2, 5.2),
        ("delta-3-carene 5,2", "delta-3-carene", 5.2, 5.2, 5.2),
        ("α-Pinene 5.2", "alpha-pinene", 5.2, 5.2, 5.2),
        ("ß-Pinen 5.2", "beta-pinene", 5.2, 5.2, 5.2),
        ("beta pinene 5.2", "beta-pinene", 5.2, 5.2, 5.2),
        ("trans-Anethole 5.2", "(E)-anethole", 5.2, 5.2, 5.2),
        ("(E)-Anethole 5.2", "(E)-anethole", 5.2, 5.2, 5.2),
        ("humulene epoxide 2 1.3", "humulene epoxide II", 1.3, 1.3, 1.3),
        ("Compound Formula M.W. %\nLinalool C10H18O 154.25 34.2", "linalool", 34.2, 34.2, 34.2),
        ("CAS Name Area % RT\n78-70-6 Linalool 34.2 14.32", "linalool", 34.2, 34.2, 34.2),
        (
            "RT  Compound  CAS  Area %\n9.1  Linalool  78-70-6  34.2",
            "linalool",
            34.2,
            34.2,
            34.2,
        ),
        ("Bestandteil;RT;Fläche %\nLinalool;12,61;34,2", "linalool", 34.2, 34.2, 34.2),
        ("Composé;TR;N° CAS;Teneur\nLinalol;12,6;78-70-6;34,2", "linalool", 34.2, 34.2, 34.2),
        ("Peak\tName\tArea\tArea %\n1\tLinalool\t987654\t34.2", "linalool", 34.2, 34.2, 34.2),
        ("Name;mg/kg\nLinalool;3500", "linalool", 0.35, 0.35, 0.35),
        (
            "Name\tLinear retention index\tMin\tMax\nLinalool\t1100\t30\t40",
            "linalool",
            30,
            35,
            40,
        ),
    ],
)
def test_a_line_is_read_as_printed(line, name, low, typical, high):
    rest = "" if "\n" in line else REST
    found = amounts(line + rest)[name]
    assert (found.low, found.typical, found.high) == pytest.approx((low, typical, high))


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("97-53-0 Eugenol 82.1 14.32", "several numbers"),
        ("Eugenol 82.1 (0.4)", "several numbers"),
        ("Eugenol,97-53-0,47.68,1 ± 0.4", "several numbers"),
        ("8.12 Linalool 34.2", "several numbers"),
        ("Linalool 25 35 %", "several numbers"),
        ("linalool 35 %, limonene 30 %", "several numbers"),
        ("Linalool\t-\t3", "several numbers"),
        ("34.2 Linalool", "words behind"),
        ("Linalool 34.2 min", "words behind"),
        ("Linalool RT 12.6", "no amount"),
        ("Linalool min 25", "no amount"),
        ("Linalool 12 - 3", "less to more"),
        ("Cineole 1,8", "part of the name"),
        ("Linalool 1.2E-1", "a name and an amount"),
        ("Linalool 34.2a", "a name and an amount"),
        ("Linalool82.1", "a name and an amount"),
        ("Linalool -0.4", "a name and an amount"),
        ("Linalool,35,2", "commas of one kind"),
        ("Linalool 12,345", "% sign"),
        ("Linalool 1 - 150", "up to 150 %"),
        ("Eugenol 97-53-1 8", "last digit"),
        ("Eugenol 78-70-6 8", "another constituent"),
        ("Neral 106-26-3 geranial 141-27-5 8", "2 CAS numbers"),
        ("?-Pinene 30", "unreadable letter"),
        ("-Pinene 30", "unreadable letter"),
        ("Total citral 60", "a total"),
        ("35.2", "without a name"),
        ("Compound RT\nLinalool 12.6", "column of amounts"),
        ("Compound % %\nLinalool 12 13", "several columns of amounts"),
        ("Compound;Min\nLinalool;12", "least only"),
        ("Name;CAS;%\nLinalool;eleven;12", "CAS number in this cell"),
        ("Name;RT;%\nLinalool;about ten;12", "a number in this cell"),
        ("Name,Percent\nLinalool,35,2", "3 cells"),
        ("Name RT %\nLinalool 12.6", "empty cell"),
        ("LOD 0.01 % or 0.1 %", "one limit"),
    ],
)
def test_an_unclear_line_is_asked_about(line, words):
    with pytest.raises(BadAnalysis, match=words):
        read_analysis(REST + "\n" + line)


def test_lines_about_the_sample_are_passed_by():
    found = read_analysis(
        "Certificate No. 4711\nLavender oil (CAS 8000-28-0)\nDate: 12.03.2024\nPage 1 of 2\n"
        "Relative density 0.885\nPesticides: not detected\nharvest of 2023\n---\n"
        "1 Linalool 34.2\n2 Camphor 1\n3 Moonbeam nd\nTotal 35.2"
    )
    assert {NAMES[key]: amount.typical for key, amount in found.amounts.items()} == {
        "linalool": 34.2,
        "camphor": 1.0,
    }
    assert not found.unmatched
    assert len(found.ignored) == 9


def test_a_reporting_limit_bounds_what_has_no_figure():
    text = "Linalool nd\nCamphor tr\nBorneol 0.0\nGeraniol <0.2" + REST
    open_ended = read_analysis(text)
    assert [NAMES[key] for key in open_ended.not_quantified] == ["linalool", "camphor"]
    assert open_ended.reporting_limit is None
    found = amounts(text, reporting_limit="0.1 %")
    assert found["linalool"] == found["camphor"] == found["borneol"] == Amount(0, 0, 0.1)
    assert found["geraniol"] == Amount(0, 0, 0.2)
    with_unit = registry().Quantity(500, "ppm")
    assert read_analysis(text, reporting_limit=with_unit).reporting_limit == 0.05
    for stated in ("LOD 0.1 %", "tr: traces (< 0.1 %)", "Bestimmungsgrenze: 0,1 %"):
        assert amounts(f"{text}\n{stated}", reporting_limit="0.05 %")["linalool"].high == 0.1


@pytest.mark.parametrize("limit", ["0.05", 0.05, "5 mL", "0 %", "120 %", ""])
def test_a_reporting_limit_needs_its_unit(limit):
    with pytest.raises(BadNumber, match="reporting limit"):
        read_analysis("Linalool 30", reporting_limit=limit)


def test_fractions_are_asked_about_unless_they_are_marked():
    with pytest.raises(BadAnalysis, match="fractions"):
        read_analysis("Linalool 0.43\nLimonene 0.5")
    assert amounts("Linalool 0.43 %\nLimonene 0.5 %")["linalool"].typical == 0.43
    assert amounts("Name;w/w fraction\nLinalool;0.43\nLimonene;0,07") == {
        "linalool": Amount(43, 43, 43),
        "limonene": Amount(7, 7, 7),
    }


def test_a_cell_without_a_digit_before_its_decimal_point_is_read():
    # common practice in tables out of instruments, no published source
    found = amounts("Name;Area %\nLinalool;.5\nCamphor;.25 %\nLimonene;5.")
    typical = {name: amount.typical for name, amount in found.items()}
    assert typical == {"linalool": 0.5, "camphor": 0.25, "limonene": 5.0}


def test_an_unmatched_name_keeps_its_number():
    found = read_analysis("Moonbeam 50-00-0 3" + REST)
    assert found.unmatched == {"Moonbeam": Amount(3, 3, 3)}
    assert found.unmatched_cas == {"Moonbeam": "50-00-0"}


def test_names_and_numbers_that_agree():
    assert not contradict("limonene", "5989-27-5")
    assert not contradict("citral", "106-26-3")
    assert not contradict("moonbeam", "97-53-0")
    assert contradict("nerol", "106-24-1")
    assert set(match_shares("", "5392-40-5")) == set(match_shares("citral"))


@pytest.mark.parametrize(
    ("line", "is_read"),
    [
        ("Eugenol 97-53-0 82.1 ± 0.4", True),
        ("97-53-0 Eugenol 82.1 14.32", False),
        ("CAS Name % RT\n97-53-0 Eugenol 82.1 14.32", True),
    ],
)
def test_clove_bud_stays_over_its_limit(line, is_read, tmp_path, monkeypatch):
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path))
    if not is_read:
        with pytest.raises(BadAnalysis):
            read_analysis(line)
        return
    lot = keep_lot("clove-bud", "C1", read_analysis(line))
    findings = bk.skin_findings_of({lot.id: 4.0})
    of_eugenol = findings[findings["subject"] == "eugenol"]
    assert set(of_eugenol["verdict"]) == {"over"}
    assert of_eugenol["amount_percent"].min() > 4 * 0.82


def test_a_lot_of_limits_alone_is_refused_in_words(tmp_path, monkeypatch):
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path))
    with pytest.raises(BadNumber, match="sum of the shares"):
        keep_lot("bergamot", "B1", read_analysis("Bergapten < 0.01 %"))
    assert not any(tmp_path.iterdir())


@pytest.mark.parametrize(
    "text",
    [
        "Linalool 5 1\n" * 4_900,
        "".join(f"moonbeam{number} 0.001\n" for number in range(4_900)),
        "RT Name %\n" + "".join(f"8.1 moon{number} 0.001\n" for number in range(4_900)),
        ("d " * 490 + "5\n") * 100,
        ("(E)-" * 240 + "x 5\n") * 100,
        ("name " * 190 + "\n") * 100,
        "Linalool 5\n" * 100_000,
    ],
)
def test_a_long_paste_is_answered_at_once(text):
    read_analysis("Linalool 5 %")  # reads the tables
    start = time.process_time()
    with pytest.raises(BadAnalysis) as refused:
        read_analysis(text)
    assert time.process_time() - start < 4  # 2 s where the machine does nothing else
    assert len(str(refused.value)) < 20_000


def test_a_long_paste_takes_little_memory():
    read_analysis("Linalool 5 %")
    tracemalloc.start()
    with pytest.raises(BadAnalysis, match=r"4880 more"):
        read_analysis("Linalool 5 1\n" * 4_900)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 256e6
