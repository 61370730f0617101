"""The tables behind the skin check: nothing missing, nothing looser, nothing said twice."""

from blendkit.foundation import data
from blendkit.materials import catalogue
from blendkit.skin import published_limits
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
    of_perfume = USED[USED["scope"] == "perfume oil"]
    both = of_perfume.merge(
        USED[USED["scope"] == "body oil"], on=["rule_set", "subject", "kind", "applies_to"]
    )
    assert len(both) > 60
    assert (both["limit_percent_y"] <= both["limit_percent_x"]).all()
    left = set(of_perfume["subject"]) - set(both["subject"])
    assert left <= {"alkynoates"}  # synthetic; no figure for body oils was seen


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


def test_every_citrus_oil_is_in_the_sum_or_named_as_not_phototoxic():
    known = set(data.table("phototoxic")["material"])
    for oil_id in data.table("oils")["id"]:
        oil = catalogue.oil(oil_id)
        if oil.latin_name.startswith("Citrus") and "distilled" not in oil.process:
            assert oil_id in known, oil_id
