"""Mixtures made at the bench: their lot, label, price and stock."""

from __future__ import annotations

from datetime import date

import pytest

import blendkit as bk
from blendkit.batch.stock import Use, missing, needed_m3, uses_of
from blendkit.foundation.errors import BadNumber
from blendkit.journal.records import BatchMaterial, BatchRow
from blendkit.keeping.makings import lot_of, make_mixture, making_label
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import buy, current_stock, opening_days, take_back
from blendkit.keeping.versions import keep_version
from blendkit.materials import catalogue


@pytest.fixture
def journal(own_folder):
    return the_journal()


@pytest.fixture
def dilution(journal):
    return bk.keep_mixture(
        "Patchouli 10 % in jojoba", {"patchouli": 10, "jojoba": 90}, "volume"
    )


def left_ml(journal):
    return {name: row.left_m3 * 1e6 for name, row in current_stock(journal).items()}


def blend_of(oil_id):
    return bk.Blend(
        {"bottle": "10 mL", "strength": "20 %", "note_parts": {"base": 1},
         "oils": [{"id": oil_id, "note": "base"}], "carriers": [{"id": "jojoba"}]}
    )  # fmt: skip


def test_making_takes_the_parts_and_gives_the_mixture(journal, dilution):
    buy(journal, "patchouli", "10 mL", price=20, currency="EUR", bought_on="2026-03-01")
    buy(journal, "jojoba", "100 mL", price=10, currency="EUR", bought_on="2026-03-01")
    row = make_mixture(journal, dilution.id, "50 mL", made_on="2026-03-02")
    left = {"patchouli": 5, "jojoba": 55, dilution.id: 50}
    assert left_ml(journal) == pytest.approx(left)
    assert (row.price, row.currency) == (pytest.approx(5 * 2 + 45 * 0.1), "EUR")
    assert row.lot == "20260302-1"
    assert making_label(row) == (
        "Patchouli 10 % in jojoba, made 2026-03-02, best before 2028-03-02. Lot 20260302-1. "
        "For blending; not judged for skin."
    )
    assert opening_days(journal)[dilution.id] == date(2026, 3, 2)
    assert lot_of(journal, catalogue.pinned(dilution.id)) == row.lot
    batch = bk.scale(blend_of(dilution.id), "2 × 10 mL")
    (line,) = [c for c in bk.cost(batch, currency="EUR").lines if c.material == dilution.id]
    assert line.cost == pytest.approx(4 * 14.5 / 50, rel=0.005 / 3.7)  # weighed to half a step
    take_back(journal, row.id)
    assert left_ml(journal) == pytest.approx({"patchouli": 10, "jojoba": 100})


def test_using_it_takes_from_its_own_stock_by_any_version(journal, dilution):
    make_mixture(journal, dilution.id, "10 mL", made_on="2026-03-02")
    kept, _ = keep_version(journal, blend_of(dilution.id))
    batch = BatchRow(version_id=kept.version.id, lot="20260303-1", made_on=date(2026, 3, 3))
    (portion, _) = kept.blend().bottle.portions
    assert portion.material == catalogue.pinned(dilution.id) != dilution.id
    used = BatchMaterial(batch_id="", material=portion.material, volume_ml=2.0)
    journal.make_batch(batch, [(1, 10.0)], [used])
    bk.keep_mixture("Patchouli 10 % in jojoba", {"patchouli": 12, "jojoba": 88})
    assert left_ml(journal)[dilution.id] == pytest.approx(8)


def test_what_was_never_made_is_taken_from_its_parts(journal, dilution):
    batch = bk.scale(blend_of(dilution.id), "1 × 10 mL")
    needed = needed_m3(uses_of(batch), current_stock(journal))
    half_step = 0.005 / 1.8  # of the scale, in the grams of 2 mL that are weighed
    wanted = {"patchouli": 0.2e-6, "jojoba": 9.8e-6}
    assert needed == pytest.approx(wanted, rel=half_step)
    assert set(missing(uses_of(batch), current_stock(journal))) == {"patchouli", "jojoba"}
    outer = bk.keep_mixture("outer", {dilution.id: 1, "jojoba": 1}, "volume")
    make_mixture(journal, dilution.id, "10 mL")
    use = [Use(outer.id, 2e-6, date.today())]
    found = needed_m3(use, current_stock(journal))
    assert found == pytest.approx({dilution.id: 1e-6, "jojoba": 1e-6})


def test_a_part_without_a_price_leaves_the_mixture_without_one(journal, dilution):
    buy(journal, "jojoba", "100 mL", price=10, currency="EUR")
    assert make_mixture(journal, dilution.id, "50 mL").price is None
    assert make_mixture(journal, dilution.id, "9 g").volume_ml == pytest.approx(
        9e-3 / dilution.density_kg_per_m3 * 1e6
    )


@pytest.mark.parametrize(
    ("what", "words"),
    [
        ({"amount": "10"}, "amount"),
        ({"amount": "0 mL"}, "more than nothing"),
        ({"made_on": "soon"}, "made_on"),
        ({"material_id": "jojoba"}, "a mixture"),
        ({"lot": "L1"}, "which is taken"),
    ],
)
def test_nonsense_is_refused_in_words(journal, dilution, what, words):
    make_mixture(journal, dilution.id, "1 mL", lot="L1")
    with pytest.raises(BadNumber, match=words):
        make_mixture(journal, **{"material_id": dilution.id, "amount": "1 mL", **what})
    assert len(left_ml(journal)) == 3


def test_an_infusion_keeps_as_its_maker_says(journal):
    made = bk.keep_mixture("Calendula in olive", {"olive": 1}, keeps_months=4)
    row = make_mixture(journal, made.id, "50 mL", made_on="2026-03-02")
    assert "best before 2026-07-02" in making_label(row)
