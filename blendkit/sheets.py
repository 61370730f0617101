"""Printable pages and the HTML fragments that panels show.

The pages live in `blendkit/pages/` as templates; every text that a person typed is escaped by
the template engine. A page is one self-contained file that prints on one A4 or Letter sheet.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

from blendkit import bench, look
from blendkit.analyses import Analysis
from blendkit.constituents import constituent
from blendkit.drops import (
    Filling,
    exact_totals_near,
    largest_rounding_error,
    left_out,
)
from blendkit.materials import Oil
from blendkit.palette import share_by_grade
from blendkit.provenance import provenance
from blendkit.units import G_PER_KG, ML_PER_M3, show

SNIFF_TIMES = ("now", "10 min", "1 h", "next day")
NO_NAME = "Untitled blend"


@cache
def _templates() -> Environment:
    environment = Environment(
        loader=PackageLoader("blendkit", "pages"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["look"] = look
    return environment


def bench_page(filling: Filling) -> str:
    """The bench sheet as a page: steps to tick, lots and date to write in, cautions.

    Parameters
    ----------
    filling : Filling

    Returns
    -------
    str
        A complete HTML document.
    """
    blend = filling.blend
    steps = [
        {
            "action": step.action,
            "name": step.portion.name if step.portion else "",
            "drops": (step.portion.drops or "") if step.portion else "",
            "volume_ml": show(step.portion.volume_m3 * ML_PER_M3) if step.portion else "",
            "mass_g": f"{step.portion.mass_kg * G_PER_KG:.2f}" if step.portion else "",
        }
        for step in bench.mixing_steps(filling)
    ]
    return (
        _templates()
        .get_template("bench.html")
        .render(
            name=blend.name or NO_NAME,
            bottle=show(blend.bottle_m3 * ML_PER_M3),
            strength=show(blend.strength_fraction * 100),
            basis=blend.strength_basis,
            strength_got=show(filling.strength_got * 100),
            oil_drops=filling.oil_drops,
            steps=steps,
            strengths=strengths_in_words(filling),
            drop_sizes=_drop_sizes_in_words(filling),
            remarks=remarks(filling),
            cautions=bench.cautions(filling),
        )
    )


def sniff_page(filling: Filling) -> str:
    """The sniff test as a page: drops for one blotter, and lines for impressions."""
    miniature = bench.sniff_test(filling)
    counts = miniature.drops if miniature else {}
    return (
        _templates()
        .get_template("sniff.html")
        .render(
            name=filling.blend.name or NO_NAME,
            drops=[
                {"name": portion.name, "note": portion.note, "drops": counts[portion.material]}
                for portion in filling.oils
                if portion.material in counts
            ],
            total=miniature.total if miniature else 0,
            error=show(miniature.largest_error * 100, 2) if miniature else "",
            times=SNIFF_TIMES,
        )
    )


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
    return (
        _templates()
        .get_template("drop_list.html")
        .render(
            rows=rows,
            oil_drops=filling.oil_drops,
            volume_ml=f"{filling.volume_m3 * ML_PER_M3:.2f}",
            mass_g=f"{filling.mass_kg * G_PER_KG:.2f}",
            strengths=strengths_in_words(filling),
        )
    )


def strengths_in_words(filling: Filling) -> str:
    """The strength got on all three bases."""
    return (
        f"{show(filling.strength_by_drops * 100)} % by drops, "
        f"{show(filling.strength_by_volume * 100)} % by volume, "
        f"{show(filling.strength_by_mass * 100)} % by mass"
    )


def _drop_sizes_in_words(filling: Filling) -> str:
    blend = filling.blend
    default = f"Counted at {show(blend.drops_per_ml['default'])} drops to the millilitre"
    own = [
        f"{portion.name} {show(blend.drops_per_ml_of(portion.material))}"
        for portion in filling.oils
        if portion.material in blend.drops_per_ml
    ]
    return f"{default} ({', '.join(own)})." if own else f"{default}."


def remarks(filling: Filling) -> list[str]:
    """What rounding to whole drops did, in sentences; empty where it did nothing."""
    found = [str(oil) for oil in left_out(filling)]
    error = largest_rounding_error(filling)
    if error > 0.005:
        totals = [
            total for total in exact_totals_near(filling.blend) if total != filling.oil_drops
        ]
        sentence = f"Whole drops miss the ratio by up to {show(error, 2)} of a drop."
        if totals:
            offer = " or ".join(str(total) for total in totals[:3])
            found.append(f"{sentence} With {offer} drops in all it would be exact.")
        else:
            found.append(f"{sentence} No total within a tenth makes it exact.")
    return found


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
    return _templates().get_template("oil_list.html").render(oils=rows)


def grades_in_words(oil: Oil) -> str:
    """What an oil's composition rests on, such as "read 81, memory 12, unidentified 7"."""
    if not oil.composition_known:
        return "no usable analysis on record"
    shares = share_by_grade(oil).items()
    return ", ".join(f"{grade} {share * 100:.0f}" for grade, share in shares if share >= 0.005)


def provenance_list(name: str) -> str:
    """Every figure of a material with its source and grade, as a small HTML table."""
    rows = provenance(name).to_dict("records")
    return _templates().get_template("provenance.html").render(rows=rows)


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
    return _templates().get_template("analysis.html").render(rows=rows)
