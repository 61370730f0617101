"""The rows that live charts are sent; plain lists, so that a slider's answer stays quick.

Each function makes the rows of the chart of the same name in `showing.charts` or `day_charts`.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np

from blendkit.blend.filling import Filling
from blendkit.evaporation.fade_words import in_front, span_of
from blendkit.evaporation.forecast import Forecast
from blendkit.evaporation.lasting import LAST_HOUR, Lasting
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import show
from blendkit.materials.catalogue import Oil, mean_vapour_pressure_pa
from blendkit.materials.constituents import constituent
from blendkit.materials.search import names_of
from blendkit.showing.kit.words import share_in_words
from blendkit.skin.limits import Finding

DATA = "rows"
EVAPORATES, STAYS, UNDESCRIBED = "evaporates", "does not evaporate", "not described"
LAW, ADVICE = "law or standard", "advice"
MOST_SHOWN = 3.0  # longer bars are drawn to here; their words say how long they are
_MOST_LIMITS = 24
_SMALLEST_SHARE = 0.005  # of an oil; less is no circle that could be seen
_AXIS_ENDS = (10, 20, 30, 50, 80, 120, 200, 300, 500, 1000)
SHORTEST_HOURS = 0.05  # where the axis of `lasting_chart` begins
NOW, HELD = "now", "held for comparison"
_NAME_HEIGHT = 0.1  # of a strength: a line of words in the smaller chart of a fade
STRIP = (1.68, 1.92)  # where the strip of who is in front lies, above the curves
_DAY_VALUES = (
    "hours", "strength", "lowest", "low", "high", "highest", "front_foot", "front_head",
)  # fmt: skip
_SHORT = {
    "IFRA standards": "IFRA",
    "EU Cosmetics Regulation": "EU law",
    "UK Cosmetics Regulation": "UK law",
    "handbook dermal maximum": "handbook",
}


def ratio_rows(filling: Filling) -> list[dict[str, Any]]:
    """Rows for `ratio_chart`, top note first.

    `reach` is where the axis ends: a round number that seldom changes, so that the bars move
    and not the axis while someone drags. A count fixed by hand is outside the ratio, which
    asks for none of that oil: `wished` is None there.
    """
    rows = []
    longest = max(max(p.drops or 0, p.wished_drops or 0) for p in filling.oils)
    reach = next((step for step in _AXIS_ENDS if step >= longest * 1.2), longest * 1.2)
    top_first = sorted(filling.oils, key=lambda portion: NOTES.index(portion.note))
    for rank, portion in enumerate(top_first):
        drops, wished = portion.drops or 0, portion.wished_drops
        rows.append(
            {
                "rank": rank,
                "label": portion.name,
                "note": portion.note,
                "drops": drops,
                "wished": wished,
                "asked": "nothing: fixed" if wished is None else f"{wished:.2f}",
                "furthest": max(drops, wished or 0),
                "reach": reach,
                "count": _count_in_words(drops, wished),
                "percent": drops / filling.oil_drops * 100,
            }
        )
    return rows


def _count_in_words(drops: int, wished: float | None) -> str:
    if wished is None:
        return f"{drops}, fixed"
    return f"{drops}" if abs(drops - wished) < 0.005 else f"{drops} for {wished:.2f}"


def volatility_rows(oils: Iterable[Oil]) -> list[dict[str, Any]]:
    """Rows for `volatility_chart`: the oils in the order given, each by its constituents."""
    return [
        {"rank": rank} | row for rank, oil in enumerate(oils) for row in _volatility_of(oil)
    ]


def _volatility_of(oil: Oil) -> Iterator[dict[str, Any]]:
    own = {"oil": oil.name, "note": oil.note}
    for share in oil.composition:
        known = constituent(share.constituent)
        if share.typical >= _SMALLEST_SHARE:
            yield own | {
                "constituent": known.name,
                "percent": share.typical * 100,
                "pressure": known.vapour_pressure_pa if known.is_volatile else 1e-4,
                "factor": known.uncertainty_factor,
                "basis": known.vapour_pressure_basis or "does not evaporate in a day",
                "state": EVAPORATES if known.is_volatile else STAYS,
            }
    if oil.unidentified_fraction >= _SMALLEST_SHARE:
        yield own | {
            "constituent": "not described by the analyses on record",
            "percent": oil.unidentified_fraction * 100,
            "pressure": mean_vapour_pressure_pa(oil),
            "factor": 10.0,
            "basis": "taken as the oil's own mean",
            "state": UNDESCRIBED,
        }


def limits_rows(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Rows for `limits_chart`: limits that have a figure, in the order given."""
    rows: list[dict[str, Any]] = []
    for finding in findings:
        rule, ceiling = finding.rule, finding.rule.ceiling
        if ceiling is None or finding.amount == 0:
            continue
        if len(rows) == _MOST_LIMITS:
            break
        rows.append(
            {
                "rank": len(rows),
                "limit": f"{rule.subject} · {_SHORT.get(rule.rule_set, rule.rule_set)}",
                "share": min(finding.share, 1e6),
                "drawn": min(finding.share, MOST_SHOWN),
                "amount": f"{show(finding.amount * 100)} %",
                "ceiling": f"{show(ceiling * 100)} %",
                "basis": rule.figure_basis,
                "oils": names_of(name for name, _ in finding.from_oils),
                "source": rule.source,
                "verdict": finding.verdict,
                "decides": LAW if rule.decides else ADVICE,
                "words": share_in_words(finding),
            }
        )
    return rows


def day_rows(found: Forecast, put_on_at: float, series: str = NOW) -> Iterator[dict[str, Any]]:
    """Rows for `day_chart`: the notes of one forecast, from the hour it was put on.

    A curve is 0 from where its note is no longer perceived. `named_at` is the height of a note's
    name behind the last of its rows.
    """
    perceived = np.where(found.levels >= found.gone, found.strength, 0.0)
    strengths = np.round([perceived, *found.band()], 4)[:, found.rows("note")]
    drawn = np.concatenate([strengths, _strip(in_front(found))])
    hours: list[float] = np.asarray(found.hours, dtype=float).tolist()
    notes = found.groups[found.rows("note")]
    names_at = _apart(strengths[0, :, -1].tolist())
    for note, name_at, of_note in zip(
        notes, names_at, drawn.swapaxes(0, 1).tolist(), strict=True
    ):
        for place, values in enumerate(zip(hours, *of_note, strict=True)):
            yield {
                "note": note,
                "series": series,
                "clock": put_on_at + values[0],
                "last": place == len(hours) - 1,
                "named_at": name_at,
            } | dict(zip(_DAY_VALUES, values, strict=True))


def lasting_rows(lasting: Lasting) -> list[dict[str, Any]]:
    """Rows for `lasting_chart`: the oils inside their notes, top note first."""
    low, high = lasting.ends()
    oils = [place for place, kind in enumerate(lasting.kinds) if kind == "oil"]
    film = lasting.film
    of_oil = zip(oils, film.oil_names, film.notes, strict=True)
    rows = []
    for place, name, note in sorted(of_oil, key=lambda each: NOTES.index(each[2])):
        ends = [
            float(np.clip(each[place], SHORTEST_HOURS, LAST_HOUR))
            for each in (low, lasting.hours, high)
        ]
        rows.append(
            {
                "rank": len(rows),
                "label": name,
                "note": note,
                "words": str(span_of(lasting, lasting.groups[place])),
            }
            | dict(zip(("low", "likely", "high"), ends, strict=True))
        )
    return rows


def _apart(heights: list[float]) -> list[float]:
    """Heights for names: at their curves, or far enough above the name below."""
    placed = list(heights)
    upwards = sorted(range(len(heights)), key=heights.__getitem__)
    for lower, upper in itertools.pairwise(upwards):
        placed[upper] = max(placed[upper], placed[lower] + _NAME_HEIGHT)
    return placed


def _strip(shares: np.ndarray) -> np.ndarray:
    """Foot and head of each note's part of the strip, the base at the bottom."""
    foot, head = STRIP
    ends = foot + (head - foot) * np.cumsum(shares[::-1], axis=0)[::-1]
    below = np.concatenate([ends[1:], np.full_like(ends[:1], foot)])
    return np.round([below, ends], 4)
