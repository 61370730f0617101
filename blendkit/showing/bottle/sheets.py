"""The list of drops for a panel, and printable pages: bench sheet and sniff test.

A page is one self-contained file that prints on one A4 or Letter sheet.
"""

from blendkit.batch.weighing import decimals_of
from blendkit.blend.blend import Blend
from blendkit.blend.filling import Filling, Portion
from blendkit.foundation.units import G_PER_KG, ML_PER_M3, show
from blendkit.making import mixing_order
from blendkit.making.bench_words import strengths_in_words
from blendkit.showing.bottle import words
from blendkit.showing.bottle.rows import sniff_rows, step_rows
from blendkit.showing.kit.rendering import render
from blendkit.showing.skin.fragments import NO_NAME
from blendkit.skin.check import marked_name
from blendkit.skin.verdict import Verdict, verdict

MOST_SKIN_SENTENCES = 6
BEFORE_MIXING = ("insoluble", "sets", "settles", "thick", "hygiene")


def drop_list(filling: Filling) -> str:
    """Contents of the bottle, as a small HTML table for a panel."""
    return render(
        "drop_list",
        rows=[
            {**row, "name": marked_name(row["material"]), "about": _about(filling, portion)}
            for row, portion in zip(filling.rows(), filling.portions, strict=True)
        ],
        weighed=filling.fields.step_kg is not None,
        oil_drops=filling.oil_drops,
        volume_ml=filling.volume_m3 * ML_PER_M3,
        mass_g=filling.mass_kg * G_PER_KG,
        strengths=strengths_in_words(filling),
    )


def bench_page(blend: Blend) -> str:
    """The bench sheet as a page: steps to tick, lots and date to write in, cautions.

    Parameters
    ----------
    blend : Blend

    Returns
    -------
    str
        A complete HTML document.
    """
    filling, judged = blend.bottle, verdict(blend)
    return render(
        "bench",
        judged=judged,
        name=blend.name or NO_NAME,
        bottle=show(blend.bottle_m3 * ML_PER_M3),
        strength=show(blend.strength_fraction * 100),
        basis=blend.strength_basis,
        actual_strength=show(filling.actual_strength * 100),
        counted=blend.count_in_words(filling.oil_drops),
        step_g=(blend.step_kg or 0.0) * G_PER_KG,
        decimals=f"%.{decimals_of(blend.step_kg or 1e-5)}f",
        steps=step_rows(filling),
        strengths=strengths_in_words(filling),
        drop_sizes=words.drop_sizes_in_words(filling),
        remarks=[*words.remarks(blend), *words.behaviour(filling, BEFORE_MIXING)],
        cautions=mixing_order.bench_cautions(filling),
        skin=_skin_in_brief(judged),
    )


def sniff_page(blend: Blend) -> str:
    """The sniff test as a page: drops for one blotter, and lines for impressions."""
    filling = blend.bottle
    miniature = mixing_order.sniff_test(filling)
    return render(
        "sniff",
        judged=verdict(blend),
        name=blend.name or NO_NAME,
        drops=sniff_rows(filling),
        total=miniature.total if miniature else 0,
        error=show(miniature.largest_error * 100, 2) if miniature else "",
        times=mixing_order.SNIFF_TIMES,
    )


def _about(filling: Filling, portion: Portion) -> str:
    """Drops that a weighed oil comes to; empty for what is counted or poured."""
    return show(filling.drops_like(portion)) if portion.is_weighed else ""


def _skin_in_brief(judged: Verdict) -> list[str]:
    """What the line at the sheet's head leaves out, in as many sentences as there is room."""
    known_by = [f"How the deciding limit is known: {judged.known_by}."] * bool(judged.known_by)
    more = judged.accepted if judged.warning else ()  # else they are in the line
    sentences = [judged.judged_as, *known_by, *more, *judged.advice]
    if len(sentences) <= MOST_SKIN_SENTENCES:
        return sentences
    left = len(sentences) - MOST_SKIN_SENTENCES
    return [*sentences[:MOST_SKIN_SENTENCES], f"And {left} more: see notebook 03."]
