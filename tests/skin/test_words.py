"""What is said of skin: silence is never told as a pass, and nothing is promised."""

import re
from pathlib import Path

import numpy as np
import pytest

from blendkit.foundation import data
from blendkit.materials import catalogue
from blendkit.showing.skin.words import skin_in_words
from blendkit.skin import check
from blendkit.skin.limits import findings_of
from tests.tools.skin import REGIONS, rules_for

SKIN_TABLES = (
    "limits",
    "shared_ceilings",
    "phototoxic",
    "label_allergens",
    "label_members",
    "cautions",
)
MODULES = sorted(Path(check.__file__).parent.glob("*.py"))
PROMISE = re.compile(r"\b(?:un)?safe(?:ly|r|st)?\b", re.IGNORECASE)


def in_words(fractions, region="EU"):
    return skin_in_words(findings_of(rules_for(fractions, region), fractions))


@pytest.mark.parametrize("region", REGIONS)
def test_nothing_judged_is_never_told_as_a_pass(region):
    silent = [
        name
        for name in catalogue.oil_ids()
        if all(rule.ceiling is None for rule in rules_for([name], region))
    ]
    assert silent  # there are oils that nothing on record limits
    for name in silent:
        judged, gap = in_words({name: 0.2}, region)
        assert judged == (
            "No limit on record applies to what is in the bottle: nothing was judged."
        )
        assert catalogue.oil(name).name in gap


def test_no_finding_at_all_is_never_told_as_a_pass():
    assert skin_in_words([]) == [
        "No limit on record applies to what is in the bottle: nothing was judged."
    ]


def test_what_is_over_is_told_without_saying_that_nothing_was_judged():
    said = " ".join(in_words({"cinnamon-bark": 0.2}))
    assert "times its limit" in said
    assert "nothing was judged" not in said
    assert "Over none" not in said


@pytest.mark.parametrize("name", SKIN_TABLES)
def test_no_table_promises(name):
    table = data.table(name)
    for heading in table.select_dtypes(exclude=np.number):
        assert not [text for text in table[heading] if PROMISE.search(str(text))]


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.stem)
def test_no_module_promises(module):
    assert not PROMISE.search(module.read_text(encoding="utf-8"))


def test_no_finding_promises():
    ids = list(catalogue.oil_ids())
    for region in REGIONS:
        for rule in rules_for(ids, region):
            for text in (rule.rule_set, rule.subject, rule.source, rule.remark):
                assert not PROMISE.search(text)


@pytest.mark.parametrize("name", SKIN_TABLES)
def test_no_table_holds_a_web_address(name):
    table = data.table(name)
    for heading in table.select_dtypes(exclude=np.number):
        assert not [
            text for text in table[heading] if re.search(r"https?:|www\.|\.com\b", text)
        ]
