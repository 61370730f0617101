"""The sensitisation route against published thresholds and limits.

`published/sensitisation_thresholds.csv` holds thresholds (NESIL) and the limits that standards
print for the same substance, each with its source. Three of the pairs set the constants of the
model, so agreement with them only proves the arithmetic. Two things are checks: the one pair
that was read on both sides predicts the others, and no printed limit is above the bound.
"""

import math
from decimal import Decimal
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit.foundation.errors import BadNumber
from blendkit.skin.sensitisation import PER_UG_PER_CM2, sensitisation_bound
from tests.tools.skin import IFRA, LIMITS

THRESHOLDS = pd.read_csv(
    Path(__file__).parents[1] / "published" / "sensitisation_thresholds.csv", dtype=str
)
CINNAMYL = "104-54-1"
CATEGORIES = {"4": "category_4_percent", "5A": "category_5a_percent"}
SCOPES = {"4": "perfume oil", "5A": "body oil"}


def rounding(printed):
    """Half a unit of the last digit that is printed."""
    return 0.5 * 10.0 ** int(Decimal(printed).as_tuple().exponent)


def pairs(use):
    return [
        pytest.param(row, category, id=f"{row.name}, category {category}")
        for row in THRESHOLDS[THRESHOLDS["use"].isin(use)].itertuples(index=False)
        for category, heading in CATEGORIES.items()
        if isinstance(getattr(row, heading), str)
    ]


@pytest.mark.parametrize(("row", "category"), pairs(["calibration"]))
def test_the_pairs_that_fixed_the_model_come_out(row, category):
    # not a check of the model: these pairs set its constants
    printed = getattr(row, CATEGORIES[category])
    bound = sensitisation_bound(float(row.nesil_ug_per_cm2), category) * 100
    assert bound == pytest.approx(float(printed), abs=rounding(printed))


OTHERS = [case for case in pairs(["calibration", "bound"]) if "cinnamyl" not in case.id]


@pytest.mark.parametrize(("row", "category"), OTHERS)
def test_the_one_pair_read_on_both_sides_predicts_the_others(row, category, beside_published):
    # a standard's limit may be lower, where another harm governs, and never higher
    heading = CATEGORIES[category]
    [known] = THRESHOLDS[THRESHOLDS["subject"] == CINNAMYL].to_dict("records")
    edge = float(known[heading]) + rounding(known[heading])
    nesil, printed = float(row.nesil_ug_per_cm2), getattr(row, heading)
    predicted = nesil * edge / float(known["nesil_ug_per_cm2"])
    assert float(printed) - rounding(printed) <= predicted
    beside_published(
        f"most that sensitisation allows of {row.name}, category {category}",
        sensitisation_bound(nesil, category) * 100,
        float(printed),
        float(printed) - rounding(printed),
        math.inf,
        unit="%",
        source=f"{row.nesil_source}; {row.limit_source}",
    )


@pytest.mark.parametrize("category", PER_UG_PER_CM2)
def test_no_limit_on_record_is_above_the_bound(category):
    for row in THRESHOLDS.itertuples(index=False):
        of_subject = (LIMITS["rule_set"] == IFRA) & (LIMITS["subject"] == row.subject)
        found = LIMITS[of_subject & (LIMITS["scope"] == SCOPES[category])]
        assert len(found) > 0, row.name
        bound = sensitisation_bound(float(row.nesil_ug_per_cm2), category) * 100
        for limit in found["limit_percent"]:
            assert limit - rounding(f"{limit:g}") <= bound, row.name


def test_every_figure_that_calls_itself_an_upper_bound_is_that_bound():
    # melissa is limited by its citral
    thresholds = THRESHOLDS.set_index("subject")["nesil_ug_per_cm2"].astype(float)
    rows = LIMITS[LIMITS["confirmed"] == "upper bound"]
    categories = {scope: category for category, scope in SCOPES.items()}
    assert len(rows) >= 6
    for row in rows.itertuples():
        nesil = thresholds[{"melissa": "citral"}.get(row.subject, row.subject)]
        bound = sensitisation_bound(nesil, categories[row.scope]) * 100
        assert bound == pytest.approx(row.limit_percent, abs=rounding(f"{row.limit_percent:g}"))


@given(st.floats(1e-6, 5e4), st.sampled_from(sorted(PER_UG_PER_CM2)))
def test_twice_the_threshold_allows_twice_as_much(nesil, category):
    once, twice = sensitisation_bound(nesil, category), sensitisation_bound(2 * nesil, category)
    assert twice == pytest.approx(2 * once)


@given(st.floats(1e-6, 1e5))
def test_a_body_oil_is_never_allowed_more(nesil):
    assert sensitisation_bound(nesil, "5A") < sensitisation_bound(nesil, "4")


@pytest.mark.parametrize("nesil", [0.0, -1.0, 1.1e5, math.inf, math.nan])
def test_a_threshold_out_of_range_is_refused(nesil):
    with pytest.raises(BadNumber, match="nesil_ug_per_cm2"):
        sensitisation_bound(nesil, "4")


def test_everything_wrong_is_said_at_once():
    with pytest.raises(BadNumber, match="2 problems"):
        sensitisation_bound(-5, "5B")
