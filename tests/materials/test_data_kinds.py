"""Kinds of an oil: "kind unknown" carries the highest of them; each falls under every rule."""

import pandas as pd
import pytest

from blendkit.foundation import data
from blendkit.foundation.schema import GRADES

KINDS = data.table("oil_kinds")
OILS = data.table("oils").set_index("id")
COMPOSITIONS = data.table("compositions")
RANGES = COMPOSITIONS.set_index(["oil", "constituent"])
PAIRS = list(zip(KINDS["kind"], KINDS["oil"], strict=True))
OLD = COMPOSITIONS[COMPOSITIONS["remark"].str.startswith("old bound")]

# where a table names a material, and the columns that say so
NAMED_IN = {
    "limits": ("subject_kind", "material", "subject"),
    "shared_ceilings": ("member_kind", "material", "member"),
    "label_members": ("member_kind", "material", "member"),
    "cautions": ("trigger_kind", "oil", "trigger"),
    "phototoxic": (None, None, "material"),
}


def rows_about(name, oil_id):
    """The rows of a table about one material, without the name of the material."""
    kind_column, kind, column = NAMED_IN[name]
    table = data.table(name)
    about = table[table[column] == oil_id]
    if kind_column:
        about = about[about[kind_column] == kind]
    about = about.drop(columns=[column, *({"subject_name"} & set(table.columns))])
    return about.reset_index(drop=True)


@pytest.mark.parametrize("name", NAMED_IN)
@pytest.mark.parametrize(("kind", "oil_id"), PAIRS)
def test_a_kind_falls_under_every_rule_of_its_oil(kind, oil_id, name):
    pd.testing.assert_frame_equal(rows_about(name, kind), rows_about(name, oil_id))


@pytest.mark.parametrize(("kind", "oil_id"), PAIRS)
def test_kind_unknown_counts_as_the_richest_kind(kind, oil_id):
    of_kind, unknown = RANGES.loc[kind], RANGES.loc[oil_id]
    unknown = unknown.reindex(of_kind.index)
    assert (unknown["high_percent"] >= of_kind["high_percent"]).all()
    assert (unknown["low_percent"] <= of_kind["low_percent"]).all()
    assert OILS.loc[kind, "latin_name"] == OILS.loc[oil_id, "latin_name"]


def test_kinds_and_their_oils_are_on_record():
    assert {*KINDS["kind"], *KINDS["oil"]} <= set(OILS.index)
    assert not set(KINDS["kind"]) & set(KINDS["oil"])


def test_an_old_bound_is_a_high_end_and_never_graded_read():
    assert len(OLD) > 0
    assert (OLD["high_percent"] > OLD["typical_percent"]).all()
    assert set(OLD["grade"]) <= {"part-read", "estimated"}


def test_most_of_what_the_oils_are_made_of_was_read_somewhere():
    # by mass over the described oils; the rest is what no open table was found for
    described = OILS.index[OILS["composition_known"] == "yes"]
    rows = COMPOSITIONS[COMPOSITIONS["oil"].isin(described)]
    mass = rows.groupby("grade")["typical_percent"].sum().reindex(GRADES, fill_value=0)
    share = mass / mass.sum()
    assert share["read"] + share["part-read"] > 0.70
    assert share["memory"] < 0.26
