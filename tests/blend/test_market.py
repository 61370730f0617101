"""The market: one checked value, one list of regions and uses, one default."""

import re
from pathlib import Path

import pandas as pd
import pytest

import blendkit as bk
from blendkit.blend.market import regions, uses
from blendkit.foundation import data
from blendkit.skin.published_limits import ANY_USE

PACKAGE = Path(bk.__file__).parent
KEY = ["rule_set", "subject_kind", "subject", "applies_to"]


def subjects_without_figure(limits, of_uses):
    """(subject, use) where a limit is on record for some use and nothing for this one."""
    found = []
    for subject, rows in limits[limits["used"] == "yes"].groupby(KEY):
        scopes = set(rows["scope"])
        found += [(subject, use) for use in of_uses if not scopes & {use, ANY_USE}]
    return found


def test_every_use_has_a_figure_or_says_that_it_has_none_for_all_that_is_limited():
    assert subjects_without_figure(data.table("limits"), uses()) == []


def test_a_use_without_figures_is_found():
    limits = data.table("limits")
    lacking = subjects_without_figure(limits, [*uses(), "hair mist"])
    assert len(lacking) > 80
    assert {use for _, use in lacking} == {"hair mist"}
    # and a row that says that there is none is enough
    rows = [
        dict(zip(KEY, subject, strict=True), scope=use, kind="no figure", used="yes")
        for subject, use in lacking
    ]
    stated = pd.concat([limits, pd.DataFrame(rows)])
    assert subjects_without_figure(stated, [*uses(), "hair mist"]) == []


def test_every_scope_of_a_limit_is_a_use_on_record():
    assert set(data.table("limits")["scope"]) == {*uses(), ANY_USE}


def test_every_table_by_region_covers_every_region():
    for name in ("label_rules", "seller_duties"):
        assert set(data.table(name)["region"]) == set(regions()), name


@pytest.mark.parametrize(
    "choice", [{"region": "Mars"}, {"use": "soup"}, {"region": None}, {"use": 5}]
)
def test_a_market_that_is_none_is_refused(choice):
    with pytest.raises(bk.BadNumber, match="one of"):
        bk.Market(**choice)


def test_both_choices_are_checked_at_once_with_the_nearest():
    with pytest.raises(bk.BadNumber) as refusal:
        bk.Market("eu", "perfume")
    assert len(refusal.value.problems) == 2
    assert 'Did you mean "EU"?' in str(refusal.value)


def test_the_blends_own_market_decides_unless_another_is_named():
    body = bk.Blend(bk.example_document() | {"market": {"use": "body oil"}})
    plain = bk.Blend(bk.example_document())
    ours, theirs = bk.skin_findings(body), bk.skin_findings(plain, use="body oil")
    pd.testing.assert_frame_equal(ours, theirs)
    assert not bk.skin_findings(body, use="perfume oil").equals(ours)
    assert bk.label(body).region == "EU"
    assert bk.label(plain.with_(market=bk.Market("US"))).region == "US"


def test_what_is_found_for_a_market_keeps_it():
    found = bk.nearest_within_limits(bk.example_document(), use="body oil")
    assert found.market == bk.Market(use="body oil")
    assert not (bk.skin_findings(found)["verdict"] == "over").any()


def test_the_default_is_written_in_one_place():
    default = re.compile(r"""(=|get\(.*,|\bor)\s*["'](EU|perfume oil)["']""")
    found = {
        str(file.relative_to(PACKAGE))
        for file in PACKAGE.rglob("*.py")
        if default.search(re.sub(r'"""[\s\S]*?"""', "", file.read_text(encoding="utf-8")))
    }
    assert found == {"blend/market.py"}
