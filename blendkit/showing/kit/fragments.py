"""Pieces of HTML that panels show: small tables and lists."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from blendkit.batch.stock import OnShelf
from blendkit.blend.filling import Filling
from blendkit.evaporation.fade_words import in_front, span_of
from blendkit.evaporation.forecast import Forecast
from blendkit.evaporation.lasting import Lasting
from blendkit.foundation.units import G_PER_KG, ML_PER_M3, show
from blendkit.making.bench_words import strengths_in_words
from blendkit.materials.analyses import Analysis
from blendkit.materials.catalogue import Oil
from blendkit.materials.constituents import constituent
from blendkit.materials.provenance import provenance
from blendkit.showing.kit.rendering import render, table
from blendkit.showing.kit.words import grades_in_words
from blendkit.skin.cautions import Caution

_ASKED_FOR = {0: "at first", 1: "after 1 hour", 4: "after 4 hours", 8: "after 8 hours"}


def drop_list(filling: Filling) -> str:
    """What is in the bottle, as a small HTML table for a panel."""
    rows: list[dict[str, Any]] = [
        {
            "note": portion.note,
            "name": portion.name,
            "drops": "" if portion.drops is None else portion.drops,
            "volume_ml": f"{portion.volume_m3 * ML_PER_M3:.2f}",
            "mass_g": f"{portion.mass_kg * G_PER_KG:.2f}",
            "percent": f"{portion.mass_kg / filling.mass_kg * 100:.1f}",
        }
        for portion in filling.portions
    ]
    return render(
        "drop_list",
        rows=rows,
        oil_drops=filling.oil_drops,
        volume_ml=f"{filling.volume_m3 * ML_PER_M3:.2f}",
        mass_g=f"{filling.mass_kg * G_PER_KG:.2f}",
        strengths=strengths_in_words(filling),
    )


def oil_list(oils: Iterable[Oil]) -> str:
    """Oils with their notes, families, odour words and the honesty of their figures."""
    rows = [
        {
            "name": oil.name,
            "latin_name": oil.latin_name,
            "note": oil.note,
            "family": oil.family,
            "odour_words": oil.odour_words,
            "grades": grades_in_words(oil),
        }
        for oil in oils
    ]
    return render("oil_list", oils=rows)


def provenance_list(name: str) -> str:
    """Every figure of a material with its source and grade, as a small HTML table."""
    rows = provenance(name).to_dict("records")
    return render("provenance", rows=rows)


def analysis_list(analysis: Analysis) -> str:
    """What was understood of an analysis, matched and unmatched, as a small HTML table."""
    matched = [
        (constituent(name).name, "", amount) for name, amount in analysis.amounts.items()
    ]
    unmatched = [(name, "not matched", amount) for name, amount in analysis.unmatched.items()]
    rows = [
        {
            "name": name,
            "remark": remark,
            "low": show(amount.low),
            "typical": show(amount.typical),
            "high": show(amount.high),
        }
        for name, remark, amount in [*matched, *unmatched]
    ]
    return render("analysis", rows=rows)


def allergen_list(names: pd.DataFrame) -> str:
    """Names that a label must carry, as a small HTML table."""
    rows = names[names["must_be_named"]].to_dict("records")
    return render("allergens", rows=rows)


def caution_list(cautions: Iterable[Caution]) -> str:
    """Cautions by topic, as HTML."""
    rows = [caution._asdict() for caution in cautions]
    return render("cautions", rows=rows)


def stock_list(there: Mapping[str, OnShelf]) -> str:
    """What is left on the shelf, as a small HTML table; what is wrong stands first."""
    lines = sorted(there.values(), key=lambda line: (not line.remark, line.name))
    return render("stock_list", rows=[_stock_row(line) for line in lines])


def _stock_row(line: OnShelf) -> dict[str, Any]:
    counted_m3 = line.counted.volume_m3 if line.counted else 0.0
    begun_m3 = counted_m3 + line.bought_m3
    newest = line.newest_price
    per_ml = (newest.price_per_m3 or 0.0) / ML_PER_M3 if newest else 0.0
    return {
        "name": line.name,
        "remark": line.remark,
        "percent": round(max(line.left_m3, 0.0) / begun_m3 * 100) if begun_m3 else 0,
        "left": _tenths(line.left_m3),
        "because": _stock_in_words(line),
        "price": f"{per_ml:.2f} {newest.currency}" if newest else "no price on record",
        "opened": str(line.opened_on or ""),
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
    return f"{volume_m3 * ML_PER_M3 + 0.0:.1f}".replace("-", "−")


def front_list(found: Forecast, put_on_at: float) -> str:
    """Which note may be in front at the hours a maker asks for, in chances out of ten."""
    notes = found.groups[found.rows("note")]
    chances = np.rint(in_front(found) * 10).astype(int).T
    rows = []
    for hour, words in _ASKED_FOR.items():
        place = int(np.abs(found.hours - hour).argmin())
        clock = divmod(round((put_on_at + hour) * 60) % (24 * 60), 60)
        rows.append(("{}:{:02d}".format(*clock), words, *(c or "–" for c in chances[place])))
    caption = "Which note is in front: chances in ten"
    return table(caption, ("", "", *notes), rows)


def strengths_list(by_strength: Mapping[str, Lasting]) -> str:
    """When each note is gone, were the blend made at other strengths."""
    first = next(iter(by_strength.values()))
    notes = [name for name, kind in zip(first.groups, first.kinds, strict=True) if kind == "note"]
    rows = [
        (text, *(str(span_of(lasting, note)) for note in notes))
        for text, lasting in by_strength.items()
    ]
    return table("Gone, at other strengths of this blend", ("strength", *notes), rows)
