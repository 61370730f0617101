"""The tables behind the skin check: nothing missing, nothing looser, nothing said twice."""

import dataclasses
import math
import re

import pytest

from blendkit.blend.market import Market, regions, uses
from blendkit.foundation import data
from blendkit.foundation.data import TABLES
from blendkit.materials import catalogue
from blendkit.materials.catalogue import Share
from blendkit.materials.constituents import match_shares
from blendkit.skin import published_limits
from blendkit.skin.limits import HANDBOOK
from blendkit.skin.rules import rules_of
from tests.tools.skin import EU, IFRA, LIMITS, USED

# named in the rules, but no oil of these tables; kept so that they count once there is one
NO_OIL_YET = {
    "basil-madagascan", "laurel-seed-oil", "lavender-spanish", "myrtle-honey", "styrax-crude",
    "tagetes-absolute", "lemon-distilled", "lemon-leaf", "citrus-unknown",
}  # fmt: skip


def test_every_oil_named_in_a_rule_is_on_record():
    shared = data.table("shared_ceilings")
    named = {
        *USED.loc[USED["subject_kind"] == "material", "subject"],
        *shared.loc[shared["member_kind"] == "material", "member"],
        *data.table("phototoxic")["material"],
    }
    assert named - set(data.table("oils")["id"]) == NO_OIL_YET & named


def test_every_shared_ceiling_has_members_and_the_other_way_round():
    shared = data.table("shared_ceilings")
    rows = LIMITS[LIMITS["subject_kind"] == "shared"]
    with_limit = set(zip(rows["subject"], rows["rule_set"], strict=True))
    assert with_limit == set(zip(shared["ceiling"], shared["rule_set"], strict=True))


def test_each_rule_set_counts_its_own_members_together():
    # EU Annex II entry 360 names safrole; the IFRA standard isosafrole and dihydrosafrole too
    members = {
        limit.rule_set: limit.members
        for limit in published_limits.published()
        if "afrole + " in limit.name or limit.name.startswith("Safrole (")
    }
    assert members[EU] == {"94-59-7"}
    assert members[IFRA] == {"94-59-7", "120-58-1", "94-58-6"}


def test_figures_not_used_are_never_stricter_than_the_used_one():
    key = ["rule_set", "scope", "subject"]
    both = USED.merge(LIMITS[LIMITS["used"] == "no"], on=key, suffixes=("", "_left"))
    both = both[both["limit_percent"].notna()]
    assert len(both) > 5
    assert (both["limit_percent"] <= both["limit_percent_left"]).all()


def test_no_limit_of_a_body_oil_is_looser_than_that_of_a_perfume_oil():
    key = ["rule_set", "subject", "kind", "applies_to"]
    limits_of = {
        use: USED[USED["scope"].isin([use, "any leave-on"])].groupby(key)["limit_percent"].min()
        for use in uses()
    }
    of_perfume = limits_of["perfume oil"].dropna()
    assert len(of_perfume) > 150
    # missing would be NaN, which is not below anything
    assert (limits_of["body oil"].reindex(of_perfume.index) <= of_perfume).all()


# --- every limit can bite ---------------------------------------------------------------------


CHEMICAL = [limit for limit in published_limits.published() if not limit.of_materials]
JUDGED = [
    x for x in CHEMICAL
    if x.applies_to == "all sources" and not x.is_condition and not math.isnan(x.ceiling)
]  # fmt: skip


def limited_numbers():
    """Every CAS number that a limit names, used or not, with the limit's own members."""
    shared = data.table("shared_ceilings").query("member_kind == 'constituent'")
    for row in shared.itertuples():
        same = (shared["ceiling"] == row.ceiling) & (shared["rule_set"] == row.rule_set)
        yield str(row.member), set(shared.loc[same, "member"])
    for number in LIMITS.loc[LIMITS["subject_kind"] == "constituent", "subject"]:
        yield number, {number}


def test_every_limited_number_means_constituents_that_the_limit_counts():
    # an analysis that names the number must meet the limit, whatever isomer it is
    lost = {}
    for number, members in limited_numbers():
        meant = set(match_shares("", number))
        if not meant or not meant <= members:
            lost[number] = meant
    assert not lost


def test_the_name_of_a_limit_on_one_constituent_means_that_constituent():
    rows = LIMITS[LIMITS["subject_kind"] == "constituent"]
    names = rows["subject_name"].str.replace(r" \(.*", "", regex=True)
    lost = {
        name
        for name, subject in zip(names, rows["subject"], strict=True)
        if set(match_shares(name)) != {subject}
    }
    assert not lost


@pytest.mark.parametrize("limit", JUDGED, ids=lambda x: f"{x.rule_set}, {x.scope}, {x.name}")
def test_a_lot_that_holds_a_limited_constituent_is_over(limit):
    # a lot with 90 % of it, at 90 % of the bottle: more than any limit on record allows
    region = next(r for r in regions() if limit.rule_set in (*Market(r).rule_sets, HANDBOOK))
    use = limit.scope if limit.scope in uses() else uses()[0]
    for number in limit.members:
        shares = tuple(
            Share(found, 0.9 * part, 0.9 * part, 0.9 * part, "stated", "read")
            for found, part in match_shares("", number).items()
        )
        lot = dataclasses.replace(
            catalogue.oil("lavender"), id="lavender@stated", composition=shares
        )
        rules = [
            rule
            for rule in rules_of((lot,), Market(region, use))
            if (rule.rule_set, rule.subject, rule.ceiling)
            == (limit.rule_set, limit.name, limit.ceiling)
        ]
        assert rules, number
        assert rules[0].verdict({lot.id: 0.9}) == "over", number


# names without a number, as certificates print them, and the limit that must count them
ISOMERS = {
    "asarone": ["asarone", "α-Asarone", "β-Asarone", "(E)-asarone", "cis-asarone"],
    "citral": ["Citral", "Neral", "Geranial", "neral + geranial", "citral a"],
    "carvone": ["carvone", "l-Carvone", "d-carvone", "(R)-carvone", "(S)-(+)-carvone"],
    "safrole-group": ["Safrole", "isosafrole", "trans-isosafrole", "dihydrosafrole"],
    "thujone": ["thujone", "α-thujone", "β-Thujone", "thujones"],
    "cedrene": ["cedrene", "alpha-cedrene", "β-cedrene"],
    "rose-ketones": [
        "damascenone", "β-damascenone", "alpha-damascone", "(E)-β-damascone", "δ-damascone",
        "gamma-damascone", "isodamascone", "damascones",
    ],
    "97-54-1": ["isoeugenol", "cis-isoeugenol", "(E)-Isoeugenol", "trans-isoeugenol"],
    "4602-84-0": ["farnesol", "(2E,6E)-farnesol", "(2Z,6Z)-farnesol", "farnesol isomers"],
    "104-55-2": ["cinnamaldehyde", "(E)-cinnamaldehyde", "cis-cinnamaldehyde", "cinnamal"],
    "104-54-1": ["cinnamyl alcohol", "trans-cinnamyl alcohol", "cinnamic alcohol"],
    "106-22-9": ["citronellol", "β-citronellol", "(R)-citronellol", "rhodinol"],
    "6728-26-3": ["2-hexenal", "(E)-2-hexenal", "(Z)-2-hexenal", "leaf aldehyde"],
    "97-42-7": ["cis-carvyl acetate", "trans-carvyl acetate"],
    "93-29-8": ["isoeugenyl acetate", "(E)-isoeugenyl acetate", "isoeugenol acetate"],
    "106-44-5": ["p-cresol", "cresol"],
}  # fmt: skip


@pytest.mark.parametrize("subject", ISOMERS)
def test_isomers_and_names_without_one_meet_their_limit(subject):
    rows = data.table("shared_ceilings").query("ceiling == @subject and rule_set == @IFRA")
    members = set(rows["member"]) or {subject}
    for name in ISOMERS[subject]:
        meant = set(match_shares(name))
        assert meant, name
        assert meant <= members, name


def test_a_name_for_a_sum_is_counted_whole_or_not_at_all():
    for name in data.table("sum_names")["name"].unique():
        meant = set(match_shares(name))
        for limit in CHEMICAL:
            assert not meant & limit.members or meant <= limit.members, (name, limit.name)


def test_one_constituent_does_not_hide_under_two_ids():
    # the limits name CAS numbers; any other number of the same constituent must lead there
    names = data.table("constituent_names").query("kind == 'cas'")
    other = dict(zip(names["name"], names["constituent"], strict=True))
    known = set(data.table("constituents")["id"])
    constituents = {
        *USED.loc[USED["subject_kind"] == "constituent", "subject"],
        *data.table("shared_ceilings").query("member_kind == 'constituent'")["member"],
    }
    for number in constituents - known:
        meant = other.get(number)
        assert meant is None or meant in constituents, number


# --- every figure can be found again ----------------------------------------------------------


# wordings for a copy without title, edition or author: nobody can open it again
UNTRACEABLE = re.compile(
    r"\b(?:public|trade|supplier\S*|vendor\S*|seller\S*|shop|hobby|web|data|news|encyclopedia)"
    r" (?:web )?(?:data|documents?|pages?|ingredient|raw|lists?|registers?|texts?|code|sites?"
    r"|guideline|tables?|composition|repository|survey|periodical|specification|GC sheets?)\b"
    r"|(?<!Journal )\bpages?\b(?! \d+ of the)|\bcop(?:y|ies)\b|\bsheets?\b|\bblogs?\b|\bwiki\b"
    r"|trade data|transcribed|no source kept|as printed in tables|recognised in the text"
    r"|handbook text|essential oil profile|compiled (?:from|ranges)|review column|public copy",
    re.IGNORECASE,
)
# what a text is called by: its year, edition, article, amendment, entry or number
EDITION = re.compile(r"\b(?:19|20)\d\d\b|\bentry \d|amendment|\d/\d\d\b|Supp")
NOT_CONFIRMED = "not confirmed at its source"
OF_LIMITS = ("limits", "shared_ceilings", "phototoxic")


@pytest.mark.parametrize("name", TABLES)
def test_no_row_cites_a_copy_that_nobody_can_find_again(name):
    table = data.table(name)
    texts = [heading for heading in table if heading.endswith("source") or heading == "remark"]
    found = {text for heading in texts for text in table[heading] if UNTRACEABLE.search(text)}
    assert not found


@pytest.mark.parametrize("name", OF_LIMITS)
def test_each_source_has_title_and_edition_or_says_that_it_is_not_confirmed(name):
    for source in data.table(name)["source"].unique():
        assert NOT_CONFIRMED in source or EDITION.search(source), source


@pytest.mark.parametrize("name", ["limits", "phototoxic"])
def test_how_a_limit_is_known_agrees_with_source_and_grade(name):
    grades = {
        "read": {"read", "part-read"},
        "law": {"read"},
        "upper bound": {"estimated"},
        "not confirmed": {"part-read", "memory", "estimated"},
    }
    for row in data.table(name).itertuples():
        assert row.grade in grades[row.confirmed], row
        assert (row.confirmed == "not confirmed") == (NOT_CONFIRMED in row.source), row
        is_law = "Regulation (E" in row.source and row.grade == "read"
        assert (row.confirmed == "law") == is_law, row


def test_a_limit_on_one_oil_is_known_alike_in_both_tables():
    rows = USED[USED["kind"] == "phototoxicity"].set_index(["rule_set", "scope", "subject"])
    for row in data.table("phototoxic").query("rule_set == @IFRA").itertuples():
        same = rows.loc[(IFRA, "perfume oil", row.material)]
        assert (same["limit_percent"], same["confirmed"]) == (row.limit_percent, row.confirmed)


def test_every_citrus_oil_is_in_the_sum_or_named_as_not_phototoxic():
    known = set(data.table("phototoxic")["material"])
    for oil_id in data.table("oils")["id"]:
        oil = catalogue.oil(oil_id)
        if oil.latin_name.startswith("Citrus") and "distilled" not in oil.process:
            assert oil_id in known, oil_id
