"""Every oil and carrier on record can be picked: nothing a maker chooses ends in an error.

What comes out is judged elsewhere; here it only has to come out, and be finite.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from blendkit import Blend, fade, label_allergens, provenance
from blendkit.blend.market import Market, regions, uses
from blendkit.materials import catalogue
from blendkit.showing.bottle.sheets import bench_page, sniff_page
from blendkit.skin.cautions import cautions_for
from blendkit.skin.check import findings_in
from blendkit.skin.finding_words import skin_in_words
from blendkit.skin.keeping_times import best_before
from blendkit.skin.verdict import verdict

COMPANIONS = ("petitgrain", "lavender", "cedarwood-atlas")


def blend_with(oil_id: str, carrier_id: str = "jojoba") -> Blend:
    ids = [oil_id, *(name for name in COMPANIONS if name != oil_id)]
    notes = {catalogue.oil(name).note for name in ids}
    return Blend.from_dict(
        {
            "bottle": "10 mL",
            "strength": "10 %",
            "note_parts": dict.fromkeys(notes, 1),
            "oils": [{"id": name} for name in ids],
            "carriers": [{"id": carrier_id}],
        }
    )


@pytest.mark.parametrize("oil_id", list(catalogue.shipped_oils().index))
def test_every_oil_can_be_mixed_checked_forecast_and_printed(oil_id):
    blend = blend_with(oil_id)
    filling = blend.bottle
    for region in regions():
        for use in uses():
            # a blend with anything in it is told something: a limit, or that none is on record
            assert skin_in_words(findings_in(filling, Market(region, use)))
        assert str(verdict(blend, Market(region)))
        label_allergens(blend, region)
    assert cautions_for(blend)
    assert best_before(blend, date(2026, 1, 1))[0].use_by > date(2026, 1, 1)
    assert catalogue.oil(oil_id).name.split(",")[0].replace("'", "") in bench_page(
        blend
    ).replace("&#39;", "")
    assert sniff_page(blend)
    assert not provenance(oil_id).empty
    strength = fade(blend, hours=[1, 8], draws=32)["strength"]
    assert np.isfinite(strength).all()
    assert (strength >= 0).all()


@pytest.mark.parametrize("carrier_id", list(catalogue.carriers().index))
def test_every_carrier_can_be_poured(carrier_id):
    blend = blend_with("petitgrain", carrier_id)
    assert bench_page(blend)
    assert not provenance(carrier_id).empty
    assert np.isfinite(fade(blend, hours=2, draws=32)["strength"]).all()
