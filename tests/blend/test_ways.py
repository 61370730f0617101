"""Laws of writing one bottle in several ways, and of an additive's share."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import blendkit as bk
from blendkit.blend.document import read_fields
from blendkit.blend.ways import rewrite, with_masses
from blendkit.materials import catalogue

COUNTS = st.lists(st.integers(1, 12), min_size=3, max_size=3)
SIZES = st.integers(15, 45)
OILS = ("bergamot", "lavender", "patchouli")


def counted(counts, size):
    notes = [catalogue.oil(name).note for name in OILS]
    return {
        "bottle": "10 mL", "strength": "20 %", "drops_per_ml": size,
        "note_parts": dict.fromkeys(notes, 1),
        "oils": [{"id": name, "note": note, "drops": n}
                 for name, note, n in zip(OILS, notes, counts, strict=True)],
        "carriers": [{"id": "jojoba"}],
    }  # fmt: skip


@given(COUNTS, SIZES)
@settings(max_examples=40)
def test_drops_written_in_grams_and_back_are_the_same_drops(counts, size):
    document = counted(counts, size)
    before = bk.Blend(document)
    grams = bk.Blend(rewrite(document, "grams", "0.0001 g"))
    for was, now in zip(before.bottle.oils, grams.bottle.oils, strict=True):
        assert now.mass_kg == pytest.approx(was.mass_kg, abs=0.5001e-7)
        assert grams.bottle.drops_like(now) == pytest.approx(was.drops, abs=0.003)
    assert dict(bk.Blend(rewrite(grams.to_dict(), "drops", "1 g")).oil_drops) == dict(
        before.oil_drops
    )


@given(COUNTS, st.sampled_from(["0.001 g", "0.01 g"]))
@settings(max_examples=40)
def test_counts_of_steps_written_as_masses_are_the_same_blend(counts, step):
    document = counted(counts, 20) | {"by": "mass", "step": step, "strength_basis": "mass"}
    before, after = bk.Blend(document), bk.Blend(with_masses(document))
    assert all("mass" in entry for entry in after.to_dict()["oils"])
    assert dict(after.oil_drops) == dict(before.oil_drops)
    assert with_masses(after.to_dict()) == after.to_dict()


@given(st.floats(0.1, 60), st.floats(0.1, 9), st.sampled_from(["drops", "mass"]))
@settings(max_examples=40)
def test_an_additive_has_its_share_of_what_is_poured(percent, parts, by):
    document = bk.example_document() | {
        "by": by, "strength_basis": by,
        "carriers": [{"id": "jojoba", "parts": parts}, {"id": "squalane"},
                     {"id": "castor", "share": f"{percent} %"}],
    }  # fmt: skip
    poured = {p.material: p for p in bk.Blend(document).bottle.carriers}
    amount = {name: p.mass_kg if by == "mass" else p.volume_m3 for name, p in poured.items()}
    assert amount["castor"] / sum(amount.values()) == pytest.approx(percent / 100)
    assert amount["jojoba"] / amount["squalane"] == pytest.approx(parts)


@pytest.mark.parametrize(
    ("carriers", "said"),
    [
        ([{"id": "jojoba", "share": "1 %"}], "carrier with parts"),
        ([{"id": "jojoba"}, {"id": "castor", "share": "100 %"}], "below 100 %"),
        ([{"id": "jojoba"}, {"id": "castor", "share": "0 %"}], "above 0 %"),
        ([{"id": "jojoba"}, {"id": "castor", "share": 5}], "share"),
        ([{"id": "jojoba"}, {"id": "castor", "share": "2 %", "parts": 1}], "no parts"),
        ([{"id": "jojoba"}, *({"id": i, "share": "60 %"} for i in ("castor", "squalane"))],
         "below 100 %"),
    ],
)  # fmt: skip
def test_shares_that_cannot_be_are_refused(carriers, said):
    fields, problems = read_fields(bk.example_document() | {"carriers": carriers})
    assert fields is None
    assert said in " ".join(map(str, problems))
