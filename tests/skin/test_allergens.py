"""Label names: the list itself against the regulation, and amounts by hand arithmetic."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit.blend.blend import Blend
from blendkit.foundation import data
from blendkit.foundation.errors import BadNumber
from blendkit.materials import catalogue
from blendkit.skin import allergens
from tests.tools.skin import blend_of, stated

LIST = data.table("label_allergens")
MEMBERS = data.table("label_members")
NUMBERS = LIST["numbers"].str.split("; ")
CONTRACT = ["label_name", "percent", "must_be_named", "from_oils"]

# Directive 2003/15/EC named 26; two of them (butylphenyl methylpropional and hydroxyisohexyl
# 3-cyclohexene carboxaldehyde) are prohibited since and cannot be on a label
ORIGINAL = {
    "Amyl Cinnamal", "Benzyl Alcohol", "Cinnamyl Alcohol", "Citral", "Eugenol",
    "Hydroxycitronellal", "Isoeugenol", "Amylcinnamyl Alcohol", "Benzyl Salicylate", "Cinnamal",
    "Coumarin", "Geraniol", "Anise Alcohol", "Benzyl Cinnamate", "Farnesol", "Linalool",
    "Benzyl Benzoate", "Citronellol", "Hexyl Cinnamal", "Limonene", "Methyl 2-Octynoate",
    "Alpha-Isomethyl Ionone", "Evernia Prunastri Extract", "Evernia Furfuracea Extract",
}  # fmt: skip


def percents(oils, fractions):
    found = allergens.named_in(tuple(oils), fractions)
    return {named.label_name: named.amount * 100 for named in found}


# --- the list ---------------------------------------------------------------------------------


def test_the_list_has_the_regulations_names():
    # 24 of the 26 of 2003, and 57 of Regulation (EU) 2023/1545, counted in Annex III
    assert len(LIST) == 81
    assert set(LIST.loc[LIST["part_of_list"] == "original", "label_name"]) == ORIGINAL
    assert (LIST["part_of_list"] == "longer").sum() == 57


def test_the_list_has_the_regulations_numbers():
    # 169 numbers stand in the entries of Annex III, two of them (those of Citrus Limon Peel
    # Oil) missing in the export that was read
    assert NUMBERS.map(len).sum() == 169
    for number in NUMBERS.explode():
        digits = number.replace("-", "")
        total = sum(int(n) * k for k, n in enumerate(reversed(digits[:-1]), start=1))
        assert re.fullmatch(r"\d{2,7}-\d\d-\d", number)
        assert total % 10 == int(digits[-1]), number


def test_thresholds_and_dates():
    assert set(LIST["threshold_percent"]) == {0.001}
    longer = LIST.loc[LIST["part_of_list"] == "longer", "dates"]
    # Regulation (EU) 2023/1545: new products until 31 July 2026, stock until 31 July 2028
    assert longer.str.contains("1 Aug 2026").all()
    assert longer.str.contains("31 Jul 2028").all()


def test_every_constituent_whose_number_is_printed_counts_under_that_name():
    known = set(data.table("constituents")["id"])
    mapped = set(zip(MEMBERS["label_name"], MEMBERS["member"], strict=True))
    single = LIST[LIST["natural_extract"] == "no"]
    wanted = {
        (row.label_name, number)
        for row in single.itertuples()
        for number in row.numbers.split("; ")
        if number in known
    }
    assert len(wanted) > 35
    assert wanted <= mapped


# their number is printed in an entry that names another plant part or another kind
NOT_THAT_ENTRY = {"cinnamon-leaf", "lemon-verbena-oil"}


def test_every_oil_whose_number_is_printed_counts_under_a_natural_entry():
    natural = set(NUMBERS[LIST["natural_extract"] == "yes"].explode())
    oils = data.table("oils")
    printed = set(oils.loc[oils["cas"].isin(natural), "id"])
    mapped = set(MEMBERS.loc[MEMBERS["member_kind"] == "material", "member"])
    assert printed - mapped == NOT_THAT_ENTRY


def test_members_are_on_record():
    materials_named = set(MEMBERS.loc[MEMBERS["member_kind"] == "material", "member"])
    assert materials_named - set(catalogue.oil_ids()) <= {"lemon-distilled"}
    constituents = set(MEMBERS.loc[MEMBERS["member_kind"] == "constituent", "member"])
    assert constituents <= set(data.table("constituents")["id"])
    assert set(MEMBERS["label_name"]) <= set(LIST["label_name"])


# --- amounts ----------------------------------------------------------------------------------


def test_worked_case_of_bergaptene_free_citrus():
    # 2 % each of bergamot FCF, distilled lime and sweet orange with citral 0.3, 1.0 and 0.1 %:
    # 2 x (0.003 + 0.010 + 0.001) = 0.028 %; both natural entries are named as well
    oils = [
        stated("bergamot-fcf", "citral 0.3, limonene 38, linalool 10"),
        stated("lime-distilled", "citral 1.0, limonene 50"),
        stated("sweet-orange", "citral 0.1, limonene 95"),
    ]
    found = percents(oils, {"bergamot-fcf": 0.02, "lime-distilled": 0.02, "sweet-orange": 0.02})
    assert found == pytest.approx(
        {
            "Citral": 0.028,
            "Limonene": 2 * (0.38 + 0.50 + 0.95),
            "Linalool": 0.2,
            "Citrus Aurantium Bergamia Peel Oil": 2.0,
            "Citrus Aurantium Peel Oil": 2.0,
        }
    )


def test_the_published_case_with_shipped_compositions_names_at_least_those():
    blend = blend_of(["bergamot-fcf", "lime-distilled", "sweet-orange"])
    found = allergens.label_allergens(blend)
    named = set(found.loc[found["must_be_named"], "label_name"])
    assert named >= {
        "Limonene", "Linalool", "Citral", "Citrus Aurantium Bergamia Peel Oil",
        "Citrus Aurantium Peel Oil",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("percent", "is_named"), [(0.0999, False), (0.1, False), (0.1001, True)]
)
def test_more_than_a_thousandth_of_a_percent_is_named(percent, is_named):
    # coumarin 1 % of the oil: 0.1 % of oil brings exactly 0.001 %
    oil = stated("lavandin-grosso", "coumarin 1")
    [found] = [
        named
        for named in allergens.named_in((oil,), {"lavandin-grosso": percent / 100})
        if named.label_name == "Coumarin"
    ]
    assert found.must_be_named is is_named


def test_isomers_count_under_one_name():
    oil = stated("pine-scots", "alpha-pinene 40, beta-pinene 20")
    assert percents([oil], {"pine-scots": 0.1})["Pinene"] == pytest.approx(6.0)


def test_columns_and_order():
    found = allergens.label_allergens(Blend.from_dict(data.example_document()))
    assert list(found.columns[:4]) == CONTRACT
    assert found["percent"].is_monotonic_decreasing
    assert set(found["label_name"]) <= set(LIST["label_name"])
    assert found["must_be_named"].dtype == bool


@pytest.mark.parametrize(
    ("region", "original", "longer"),
    [
        ("EU", "Annex III", "2023/1545"),
        ("UK", "taken over", "guide"),
        ("US", "guide", "guide"),
        ("Canada", "21.4", "2023/1545"),
        ("other", "guide", "guide"),
    ],
)
def test_each_region_says_which_list_is_used(region, original, longer):
    found = allergens.label_allergens(blend_of(["lavender"]), region).set_index("label_name")
    assert original in found.loc["Linalool", "list_used"]
    assert longer in found.loc["Linalyl Acetate", "list_used"]


def test_what_is_not_on_record_is_said():
    told = allergens.label_gaps(blend_of(["oud", "ginger"]))
    assert "Oud" in told[0]
    assert "of Ginger" in told[1]


def test_an_unknown_region_is_refused():
    with pytest.raises(BadNumber, match='Did you mean "EU"'):
        allergens.label_allergens(blend_of(["lavender"]), "Eu")


def test_an_own_lot_counts_under_the_natural_entry():
    lot = stated("lavender", "linalool 30, linalyl acetate 70", lot=True)
    found = percents([lot], {lot.id: 0.01})
    assert found["Lavandula Oil/Extract"] == pytest.approx(1.0)
    assert found["Linalool"] == pytest.approx(0.3)


def test_what_a_lots_analysis_does_not_name_is_named_as_usual():
    # coumarin evaporates: no more than the 1 % left undescribed, and no more than is usual
    usual = [s for s in catalogue.oil("lavender").composition if s.constituent == "91-64-5"]
    lot = stated("lavender", "linalool 99", lot=True)
    found = percents([lot], {lot.id: 0.01})
    assert found["Coumarin"] == pytest.approx(min(usual[0].high, 0.01))


@settings(deadline=None, max_examples=40)
@given(
    st.lists(st.sampled_from(catalogue.oil_ids()), min_size=1, max_size=5, unique=True),
    st.floats(1e-5, 0.1),
)
def test_twice_the_oil_is_twice_every_name(ids, amount):
    oils = [catalogue.oil(name) for name in ids]
    once = percents(oils, dict.fromkeys(ids, amount))
    twice = percents(oils, dict.fromkeys(ids, 2 * amount))
    assert twice == pytest.approx({name: 2 * percent for name, percent in once.items()})


def test_percents_are_by_mass_of_the_filled_bottle():
    blend = blend_of(["patchouli"])
    found = allergens.label_allergens(blend).set_index("label_name")
    by_mass = blend.bottle.mass_fractions()["patchouli"] * 100
    assert found.loc["Pogostemon Cablin Oil", "percent"] == pytest.approx(by_mass)
