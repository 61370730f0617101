"""The tables in `data/`: sound in themselves, tied to each other, and unchanged by accident.

Where a check rests on something outside the tables, its source stands beside it.
"""

import json
import random
import re
from pathlib import Path

import pandas as pd
import pytest
from scipy.stats import spearmanr

from blendkit.blend.market import Market, regions
from blendkit.foundation import data
from blendkit.foundation.data import TABLES
from blendkit.foundation.schema import GRADES
from blendkit.materials.constituents import plain_name
from blendkit.skin.limits import HANDBOOK
from tests.tools import renew_data_sums, vapour
from tests.tools.renew_data_sums import SUMS, differences, rows_of, sums_of

OILS = data.table("oils")
KNOWN_OILS = OILS[OILS["composition_known"] == "yes"]
COMPOSITIONS = data.table("compositions")
CONSTITUENTS = data.table("constituents").set_index("id")
FIGURES = data.table("constituent_figures")
USED = FIGURES[FIGURES["used"] == "yes"]
VALUES = USED.pivot_table(index="constituent", columns="quantity", values="value")
PRESSURES = USED[USED["quantity"] == "vapour_pressure_25c"].set_index("constituent")
NAMES = data.table("constituent_names")
SUM_NAMES = data.table("sum_names")
DRAWN = CONSTITUENTS[CONSTITUENTS["smiles"] != ""]


def listed(index):
    """What is wrong, in words that fit into a failure message."""
    return sorted(map(str, index))


# --- identities -------------------------------------------------------------------------------


def cas_numbers():
    """Every CAS number in any table, with the place it stands in."""
    for name, table in TABLES.items():
        for heading in {"cas"} & set(table.columns):
            for cas in data.table(name)[heading]:
                yield f"{name}: {cas}", cas
    for cas in NAMES.loc[NAMES["kind"] == "cas", "name"]:
        yield f"constituent_names: {cas}", cas


def test_cas_check_digits():
    # the last digit is the sum of the others, each times its place from the right, modulo 10:
    # CAS, "Check Digit Verification of CAS Registry Numbers"
    wrong = []
    for place, cas in cas_numbers():
        if not cas:
            continue
        digits = cas.replace("-", "")
        total = sum(int(n) * k for k, n in enumerate(reversed(digits[:-1]), start=1))
        if not re.fullmatch(r"\d{2,7}-\d\d-\d", cas) or total % 10 != int(digits[-1]):
            wrong.append(place)
    assert not wrong


def test_a_constituent_with_a_cas_number_is_called_by_it():
    with_cas = CONSTITUENTS[CONSTITUENTS["cas"] != ""]
    assert not listed(with_cas.index[with_cas["cas"] != with_cas.index])


def test_structures_agree_with_formula_and_molar_mass():
    chemistry = pytest.importorskip("rdkit.Chem")
    pytest.importorskip("rdkit.RDLogger").DisableLog("rdApp.*")
    from rdkit.Chem.Descriptors import MolWt
    from rdkit.Chem.rdMolDescriptors import CalcMolFormula

    wrong = []
    for row in DRAWN.itertuples():
        molecule = chemistry.MolFromSmiles(row.smiles)
        if molecule is None or CalcMolFormula(molecule) != row.formula:
            wrong.append((row.name, "formula"))
        # 0.05 g/mol: rounding of the atomic masses; one hydrogen more or less is 1.0
        elif abs(MolWt(molecule) - row.molar_mass_g_per_mol) > 0.05:
            wrong.append((row.name, "molar mass"))
    assert not wrong
    # what is not drawn is a lump or a molecule whose structure is not on record, and rare
    assert len(CONSTITUENTS) - len(DRAWN) <= 12


def test_molar_masses_agree_with_formulas_also_where_nothing_is_drawn():
    # IUPAC standard atomic weights, abridged (2021)
    weight = {"C": 12.011, "H": 1.008, "O": 15.999, "N": 14.007, "S": 32.06, "Cl": 35.45}
    rows = CONSTITUENTS[CONSTITUENTS["formula"] != ""]
    atoms = rows["formula"].map(lambda text: re.findall(r"([A-Z][a-z]?)(\d*)", text))
    mass = atoms.map(lambda pairs: sum(weight[symbol] * int(n or 1) for symbol, n in pairs))
    off = (mass - rows["molar_mass_g_per_mol"]).abs() > 0.05
    assert not listed(rows["name"][off])


# --- compositions -----------------------------------------------------------------------------


def test_typical_lies_between_low_and_high():
    low, high = COMPOSITIONS["low_percent"], COMPOSITIONS["high_percent"]
    wrong = COMPOSITIONS[~COMPOSITIONS["typical_percent"].between(low, high)]
    assert not listed(wrong["oil"] + " " + wrong["constituent_name"])


def test_typicals_of_a_known_oil_sum_to_nearly_the_whole():
    # 85: up to 15 % unidentified peaks is usual in a published analysis; 101: rounding
    sums = COMPOSITIONS.groupby("oil")["typical_percent"].sum()
    missing = set(KNOWN_OILS["id"]) - set(sums.index)
    assert not missing
    sums = sums[KNOWN_OILS["id"]]
    assert not listed(sums[~sums.between(85, 101)].items())


def test_every_id_in_a_composition_is_on_record():
    assert not listed(set(COMPOSITIONS["oil"]) - set(OILS["id"]))
    assert not listed(set(COMPOSITIONS["constituent"]) - set(CONSTITUENTS.index))


def test_names_in_compositions_are_those_of_the_constituents():
    named = CONSTITUENTS["name"].reindex(COMPOSITIONS["constituent"]).to_numpy()
    wrong = COMPOSITIONS["constituent_name"].to_numpy() != named
    assert not listed(COMPOSITIONS["constituent_name"][wrong])


@pytest.mark.parametrize("table", [FIGURES, NAMES, SUM_NAMES], ids=["figures", "names", "sums"])
def test_every_constituent_spoken_of_is_on_record(table):
    assert not listed(set(table["constituent"]) - set(CONSTITUENTS.index))


def test_every_constituent_can_be_found_by_its_own_name_and_number():
    own = set(zip(NAMES["constituent"], NAMES["name"], strict=True))
    wanted = set(zip(CONSTITUENTS.index, CONSTITUENTS["name"], strict=True))
    wanted |= {(cas, cas) for cas in CONSTITUENTS["cas"] if cas}
    assert not listed(wanted - own)


def test_rows_of_an_oil_stand_together_by_falling_typical():
    blocks = (COMPOSITIONS["oil"] != COMPOSITIONS["oil"].shift()).sum()
    assert blocks == COMPOSITIONS["oil"].nunique()
    steps = COMPOSITIONS.groupby("oil")["typical_percent"].diff()
    assert (steps.dropna() <= 0).all()


# --- names ------------------------------------------------------------------------------------


def test_no_name_means_two_constituents():
    owners: dict[str, set[str]] = {}
    for row in NAMES[NAMES["kind"] == "name"].itertuples():
        owners.setdefault(plain_name(row.name), set()).add(row.constituent)
    assert not {name: ids for name, ids in owners.items() if len(ids) > 1}
    numbers = NAMES[NAMES["kind"] == "cas"].groupby("name")["constituent"].nunique()
    assert not listed(numbers.index[numbers > 1])


def test_a_name_for_a_sum_belongs_to_no_single_constituent():
    single = {plain_name(name) for name in NAMES["name"]} | set(CONSTITUENTS["cas"])
    assert not listed({plain_name(name) for name in SUM_NAMES["name"]} & single)
    assert not listed((set(SUM_NAMES["cas"]) - {""}) & set(NAMES["name"]))
    assert SUM_NAMES.groupby("name")["share"].sum().to_numpy() == pytest.approx(1)


# --- figures ----------------------------------------------------------------------------------


def test_one_figure_of_a_kind_is_in_use():
    twice = USED.duplicated(["constituent", "quantity"])
    assert not listed(USED["constituent"][twice] + " " + USED["quantity"][twice])


def test_no_constituent_that_matters_is_without_vapour_pressure():
    # half a percent: below it even a pressure a hundred times off moves no fade curve visibly
    largest = COMPOSITIONS.groupby("constituent")["typical_percent"].max()
    matters = CONSTITUENTS.loc[largest.index[largest >= 0.5]]
    volatile = matters.index[matters["volatility"] == "volatile"]
    complete = PRESSURES.reindex(volatile)
    assert not listed(volatile[complete["value"].isna() | (complete["basis"].fillna("") == "")])
    assert not listed(volatile[complete["uncertainty_factor"].isna()])
    enthalpy = VALUES["enthalpy_of_vaporisation"].reindex(volatile)
    assert not listed(volatile[enthalpy.isna()])


def test_no_volatile_constituent_at_all_is_without_vapour_pressure():
    # it would silently count as if it never evaporated
    volatile = CONSTITUENTS.index[CONSTITUENTS["volatility"] == "volatile"]
    assert not listed(set(volatile) - set(PRESSURES.index))


def test_figures_cover_the_mass_of_every_known_oil():
    still = CONSTITUENTS.index[CONSTITUENTS["volatility"] == "non-volatile"]
    covered = COMPOSITIONS["constituent"].isin([*PRESSURES.index, *still])
    described = COMPOSITIONS.groupby("oil")["typical_percent"].sum()
    share = COMPOSITIONS[covered].groupby("oil")["typical_percent"].sum() / described
    assert not listed(share[KNOWN_OILS["id"]][lambda found: ~(found >= 0.95)].items())


def test_every_class_that_evaporates_has_an_activity():
    # else no blend with such a molecule can be forecast
    volatile = CONSTITUENTS[CONSTITUENTS["volatility"] == "volatile"]
    known = set(data.table("activity_coefficients")["chemical_class"])
    assert set(volatile["chemical_class"]) <= known


def test_every_rule_set_on_record_counts_somewhere():
    # else its limits stand in the table, and no blend is ever held against them
    assert set(data.table("limits")["rule_set"]) <= {
        HANDBOOK,
        *(rules for region in regions() for rules in Market(region).rule_sets),
    }


def test_vapour_pressure_falls_as_boiling_point_rises_within_a_class():
    # rough figures are good to a factor of ten, mostly by analogy: their order proves nothing
    firm = PRESSURES.index[PRESSURES["basis"] != "rough"]
    both = VALUES.reindex(firm).dropna(subset=["boiling_point", "vapour_pressure_25c"])
    groups = both.groupby(CONSTITUENTS["chemical_class"].reindex(both.index))
    # with fewer than eight the rank agreement says nothing
    agreement = {
        name: spearmanr(rows["boiling_point"], rows["vapour_pressure_25c"]).statistic
        for name, rows in groups
        if len(rows) >= 8
    }
    assert len(agreement) == 13
    assert not {name: found for name, found in agreement.items() if found >= -0.8}


def test_magnitudes_are_physical():
    # alkanes 0.77 g/mL, benzoic acid (solid) 1.27; the pressure range runs from a wax to
    # hydrogen cyanide, which boils at room temperature; 30 to 160 kJ/mol likewise
    ranges = {
        "density": (0.75, 1.3),
        "boiling_point": (290, 800),
        "vapour_pressure_25c": (1e-7, 1.05e5),
        "enthalpy_of_vaporisation": (20, 160),
        "log_kow": (-2, 16),
    }
    for quantity, (low, high) in ranges.items():
        found = VALUES[quantity].dropna()
        assert not listed(found[~found.between(low, high)].items()), quantity


def test_units_are_the_same_for_every_figure_of_a_kind():
    assert FIGURES[["quantity", "unit"]].drop_duplicates()["quantity"].is_unique


def test_basis_grade_and_factor_of_vapour_pressures_agree():
    basis, grade = PRESSURES["basis"], PRESSURES["grade"]
    assert set(basis) <= set(vapour.UNCERTAINTY_FACTORS)
    # an estimate is never called read; a figure measured near 25 C was seen somewhere
    estimated = ~basis.str.startswith("measured")
    assert (grade[estimated] == "estimated").all()
    assert grade[basis == "measured near 25 C"].isin(["read", "part-read"]).all()
    # a factor may stray from that of its basis only where the source says why
    usual = basis.map(vapour.UNCERTAINTY_FACTORS)
    strays = (PRESSURES["uncertainty_factor"] - usual).abs() > 1e-9
    explained = PRESSURES["source"].str.contains("factor ")
    assert not listed(PRESSURES.index[strays & ~explained])


# --- every row --------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [name for name in TABLES if "grade" in TABLES[name].columns])
def test_every_row_says_where_it_comes_from(name):
    # the reader refuses such rows already; asserted all the same, because all else rests on it
    table = data.table(name)
    assert table["grade"].isin(GRADES).all()
    assert (table["source"].str.len() > 2).all()


# each pair of columns that says where figures come from: those of the rows, and of one figure
SOURCED = sorted(
    {(name, column.basis) for name in TABLES for column in TABLES[name].columns.values()}
)


@pytest.mark.parametrize(("name", "basis"), SOURCED)
def test_what_is_graded_read_does_not_call_itself_recalled(name, basis):
    table = data.table(name)
    assert TABLES[name].columns[f"{basis}grade"].choices == GRADES
    read = table[table[f"{basis}grade"] == "read"]
    wrong = read[f"{basis}source"].str.match(r"memory|recalled|estimated", case=False)
    assert not listed(read[f"{basis}source"][wrong])


@pytest.mark.parametrize(
    ("name", "basis"), [pair for pair in SOURCED if pair[1] not in ("", "inci_")]
)
def test_a_figure_is_graded_as_its_source_allows(name, basis):
    # recalled and estimated say so; a text without a printed edition is never read in full, and
    # a density that was moved to 20 °C is not the printed figure
    source, grade = (data.table(name)[f"{basis}{end}"] for end in ("source", "grade"))
    assert (grade[source.str.match("memory")] == "memory").all()
    assert (grade[source.str.match("estimated")] == "estimated").all()
    unsure = source.str.contains(r"edition not printed|without title|inferred")
    if basis == "density_":
        unsure |= source.str.contains(r"\d at (?!20 °C)[\d.]+ °C")
    assert not listed(source[unsure & (grade == "read")])
    assumed = source.str.contains("by the rule of the book|no temperature printed")
    assert (grade[assumed] == "estimated").all()


def test_densities_follow_from_the_compositions():
    # The mean of the constituents' densities by mass, as for an ideal mixture, where at least
    # nine tenths of the mass have one. Three percent: a tenth that is heavier by a fifth, as
    # resin is, makes two, and mixing one.
    rows = COMPOSITIONS.join(VALUES["density"], on="constituent").dropna(subset=["density"])
    mass = rows.groupby("oil")["typical_percent"].sum()
    volume = (rows["typical_percent"] / rows["density"]).groupby(rows["oil"]).sum()
    oils = OILS[OILS["density_grade"].isin(["read", "part-read"])].set_index("id")
    ends = oils[["density_low_g_per_ml", "density_high_g_per_ml"]]
    full = mass.index[mass >= 90].intersection(oils.index)
    off = (mass / volume)[full] / ends.mean(axis=1)[full] - 1
    assert len(off) >= 20
    assert not listed(off[off.abs() > 0.03].items())


FOLDER = Path(__file__).parents[2] / "data"
FILES = sorted(path.name for path in FOLDER.iterdir() if path.is_file())
# addresses, and words that belong to a workshop and not on a reader's page
UNWANTED = re.compile(
    r"https?:|www\.|\b[\w-]+\.(?:com|org|net|us|de|ru|info|io|gov|life|edu|wiki|ke|uk|fr)\b"
    r"|\b(?:supplier|producer|seller|shop) page|fact base|\bin facts\b|\.py\b",
    re.IGNORECASE,
)


@pytest.mark.parametrize("name", FILES)
def test_no_address_and_no_workshop_word_in_a_data_file(name):
    text = (FOLDER / name).read_text(encoding="utf-8")
    assert not [hit.group() for hit in UNWANTED.finditer(text)]


@pytest.mark.parametrize("name", [name for name in FILES if name.endswith(".csv")])
def test_files_are_tidy(name):
    raw = (FOLDER / name).read_bytes()
    text = raw.decode("utf-8")
    assert b"\r" not in raw
    assert text.endswith("\n")
    assert not re.search(r"[ \t]+$|[ \t],|,[ \t]*$(?<=[ \t])", text, re.MULTILINE)
    frame = pd.read_csv(FOLDER / name, dtype=str, keep_default_na=False)
    spaced = frame.apply(lambda cells: cells.str.strip() != cells)
    assert not spaced.to_numpy().any()


# --- unchanged by accident --------------------------------------------------------------------


PINNED = json.loads(SUMS.read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", TABLES)
def test_no_row_changed_silently(name):
    found = differences(name, rows_of(name), PINNED.get(name, {"rows": []}))
    fix = "If that was meant: python -m tests.tools.renew_data_sums, and commit its file too."
    assert not found, "\n".join([*found, fix])


def test_nothing_is_pinned_that_is_no_table():
    assert set(PINNED) == set(TABLES)


def swapped(rows, heading, chance):
    """A copy of the rows in which two cells have changed places, and the two rows."""
    copy = [dict(row) for row in rows]
    filled = [row for row in copy if row[heading]]
    one, other = chance.sample(filled, 2)
    while one[heading] == other[heading]:
        one, other = chance.sample(filled, 2)
    one[heading], other[heading] = other[heading], one[heading]
    return copy, (one, other)


@pytest.mark.parametrize(
    ("name", "heading"),
    [
        ("limits", "limit_percent"),
        ("compositions", "typical_percent"),
        ("constituent_figures", "source"),
        ("cautions", "text"),
    ],
)
def test_two_cells_that_change_places_are_found_and_named(name, heading):
    # no sum, count or range of a column can tell
    rows, pinned = rows_of(name), sums_of(name, rows_of(name))
    chance = random.Random(1)
    for _ in range(50):
        copy, pair = swapped(rows, heading, chance)
        found = differences(name, copy, pinned)
        for row in pair:
            assert any(all(cell in line for cell in row.values()) for line in found[1:])


def test_rows_that_are_new_or_gone_are_counted_and_their_order_is_free():
    rows, pinned = rows_of("limits"), sums_of("limits", rows_of("limits"))
    assert differences("limits", rows[::-1], pinned) == []
    assert differences("limits", rows[1:], pinned) == [
        "data/limits.csv: 0 changed or new, 1 gone"
    ]
    extra = rows[0] | {"subject": "invented"}
    head, line = differences("limits", [*rows, extra], pinned)
    assert head == "data/limits.csv: 1 changed or new, 0 gone"
    assert line.startswith("new: ")
    assert "invented" in line


def test_sums_can_be_renewed_as_the_message_says(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(renew_data_sums, "SUMS", tmp_path / "sums.json")
    changed = json.loads(SUMS.read_text(encoding="utf-8"))
    changed["sticker_sizes"] = sums_of("sticker_sizes", rows_of("sticker_sizes")[1:])
    (tmp_path / "sums.json").write_text(json.dumps(changed), encoding="utf-8")
    renew_data_sums.main()
    (shown,) = re.findall("sticker_sizes.*", capsys.readouterr().out)
    assert shown == "sticker_sizes.csv: 1 changed or new, 0 gone"
    fresh = json.loads((tmp_path / "sums.json").read_text(encoding="utf-8"))
    assert fresh == {name: sums_of(name, rows_of(name)) for name in TABLES}
