"""The bench works with mixtures, pinned or not, and with a plan by mass."""

from __future__ import annotations

import pytest

import blendkit as bk
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.versions import keep_version
from blendkit.making.bench_events import Drops, Measured, Start
from blendkit.making.bench_log import Bench
from blendkit.making.limit_preview import check_limits
from blendkit.making.mixture import is_oil
from blendkit.making.recipe import recipe_of
from blendkit.materials import catalogue
from blendkit.showing.bottle.pictures import bottle_picture

pytestmark = pytest.mark.usefixtures("own_folder")


def test_a_kept_blend_with_mixtures_is_made_and_judged():
    rose = bk.keep_mixture("Rose 3 %", {"rose-otto": 3, "jojoba": 97}, drops_per_ml=25)
    steeped = bk.keep_mixture("Calendula in olive", {"olive": 1}, botanicals="calendula")
    blend = bk.Blend(
        {"name": "Quay (invented)", "bottle": "10 mL", "strength": "20 %",
         "note_parts": {"middle": 1}, "oils": [{"id": rose.id}],
         "carriers": [{"id": steeped.id}]}
    )  # fmt: skip
    kept, _ = keep_version(the_journal(), blend)
    oil, carrier = catalogue.pinned(rose.id), catalogue.pinned(steeped.id)
    assert (is_oil(oil), is_oil(carrier), is_oil("jojoba")) == (True, False, False)
    log = [Start(kept.version.document), Drops(oil, 25), Measured(carrier, "9 mL")]
    mixture = Bench.of(log).mixture
    assert mixture.volumes_m3[oil] == pytest.approx(1e-6)  # 25 drops of its own size
    held = {row.material.id for row in mixture.filling().held}
    assert held == {"rose-otto", "jojoba", "olive"}
    found = [f for f in check_limits(mixture) if f.rule.subject == "methyl eugenol"]
    assert found[0].amount > 0
    again = bk.Blend(recipe_of(Bench.of(log), "again").document)
    assert again.bottle.mass_fractions() == pytest.approx(mixture.filling().mass_fractions())


def test_a_drop_on_the_bench_is_a_drop_in_a_plan_by_mass_too():
    document = {
        "bottle": "10 mL", "strength": "20 %", "by": "mass", "make": "8 g",
        "note_parts": {"base": 1}, "oils": [{"id": "patchouli"}],
        "carriers": [{"id": "jojoba"}],
    }  # fmt: skip
    blend = bk.Blend(document)
    mixture = Bench.of([Start(document), Drops("patchouli", 20)]).mixture
    assert mixture.volumes_m3["patchouli"] == pytest.approx(1e-6)  # 20 drops to the mL
    (planned,) = mixture.plan.target_drops.values()
    assert planned == round(blend.bottle.drops_like(blend.bottle.oils[0]))
    (poured_m3,) = mixture.plan.target_carriers_m3.values()
    assert poured_m3 == pytest.approx(blend.bottle.carriers[0].volume_m3, rel=0.01)
    assert "Patchouli · 1.6 g" in bottle_picture(blend.bottle)
