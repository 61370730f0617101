"""Lists of oils, of an own material and of the stock, as HTML."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import Any

from blendkit.batch.stock import OnShelf
from blendkit.foundation.units import KG_PER_M3_PER_G_PER_ML, ML_PER_M3
from blendkit.keeping.storing import Freshness
from blendkit.materials.catalogue import OWN, Carrier, MixedMaterial, Oil, parts_of, steeped_in
from blendkit.materials.search import share_by_grade
from blendkit.showing.kit.rendering import render
from blendkit.skin.check import marked_name

_USE_FIRST = 3


def oil_list(oils: Iterable[Oil]) -> str:
    """Oils with their notes, families, odour words and grades of their figures."""
    return render("oil_list", oils=oils, name=marked_name, grades=grades_in_words)


def grades_in_words(oil: Oil) -> str:
    """Grades of an oil's composition, such as "read 81, memory 12, unidentified 7"."""
    if not oil.composition_known:
        return "no usable analysis on record"
    shares = share_by_grade(oil).items()
    return ", ".join(f"{grade} {share * 100:.0f}" for grade, share in shares if share >= 0.005)


def own_material(item: Oil | Carrier) -> str:
    """Parts of an own material, and what is not known of it, as HTML."""
    parts = parts_of(item)
    oils = sum(share for part, share in parts if isinstance(part, Oil))
    return render(
        "own_material",
        parts=[(part.name, share * 100) for part, share in parts],
        oils=oils * 100,
        is_mixture=isinstance(item, MixedMaterial),
        density=item.density_kg_per_m3 / KG_PER_M3_PER_G_PER_ML,
        density_source="" if isinstance(item, Carrier) else item.source,
        gaps=list(gaps(item)),
    )


def gaps(item: Oil | Carrier) -> Iterator[str]:
    """What is not known of a material, and what follows, each in one sentence."""
    parts = [part for part, _ in parts_of(item)]
    oils = [part for part in parts if isinstance(part, Oil)]
    own = [oil for oil in oils if oil.id.startswith(OWN)]
    carriers = [part for part in parts if not isinstance(part, Oil)]
    lacking: dict[str, Iterable[str]] = {
        "No analysis, so no skin limit judges it and no fade is shown:": (
            oil.name for oil in oils if not oil.composition_known
        ),
        "No INCI name, so no label:": (part.name for part in parts if not part.inci),
        "Density not measured:": (oil.name for oil in own if oil.grade != "read"),
        "Allergy group not on record, ask the supplier:": (
            carrier.name for carrier in carriers if not carrier.allergen_group
        ),
    }
    for words, names in lacking.items():
        if listed := ", ".join(dict.fromkeys(names)):
            yield f"{words} {listed}."
    if plants := steeped_in(item):
        yield f"Given off by {', '.join(plants)}: on no record. Skin and label are not settled."


def stock_list(there: Mapping[str, OnShelf], fresh: Freshness) -> str:
    """Stock left on the shelf, as a small HTML table; problems first, then what ends first."""
    order = [*sorted(fresh.spoilt), *fresh.use_by]  # those by their day
    lines = sorted(
        there.values(),
        key=lambda x: (not x.remark, [*order, x.material].index(x.material), x.name),
    )
    left = {line.material for line in lines if line.left_m3 > 0} - fresh.spoilt
    first = [bottle for name, bottle in fresh.use_by.items() if name in left][:_USE_FIRST]
    rows = [_stock_row(line) for line in lines]
    return render("stock_list", rows=rows, fresh=fresh, first=first, today=date.today())


def _stock_row(line: OnShelf) -> dict[str, Any]:
    counted_m3 = line.counted.volume_m3 if line.counted else 0.0
    begun_m3 = counted_m3 + line.bought_m3
    newest = line.newest_price
    per_ml = (newest.price_per_m3 or 0.0) / ML_PER_M3 if newest else 0.0
    return {
        "id": line.material,
        "name": marked_name(line.material),
        "remark": line.remark,
        "percent": round(max(line.left_m3, 0.0) / begun_m3 * 100) if begun_m3 else 0,
        "left": _tenths(line.left_m3),
        "because": _stock_in_words(line),
        "price": f"{per_ml:.2f} {newest.currency}" if newest else "no price on record",
    }


def _stock_in_words(line: OnShelf) -> str:
    parts = []
    if line.counted:
        day = f"{line.counted.at.astimezone():%Y-%m-%d}"
        parts.append(f"{_tenths(line.counted.volume_m3)} counted {day}")
    if line.bought_m3 or not parts:
        parts.append(f"{_tenths(line.bought_m3)} bought")
    used = f" − {_tenths(line.used_m3)} used" if line.used_m3 else ""
    return " + ".join(parts) + used


def _tenths(volume_m3: float) -> str:
    # rounded first, so that nothing is never below nought
    return f"{round(volume_m3 * ML_PER_M3, 1) + 0.0:.1f}".replace("-", "−")
