"""The rows of the charts of what next, and its table."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from blendkit.choosing.map import BlendMap
from blendkit.choosing.same_smell import Replacement
from blendkit.choosing.scents import HOURS as SCENT_HOURS
from blendkit.choosing.tonight import LENGTHEN, OneMore, Tonight
from blendkit.evaporation.forecast import LAST_HOUR
from blendkit.foundation.units import show
from blendkit.materials import catalogue
from blendkit.showing.kit.rendering import table

KEPT, LOST, GAINED = "stays", "lost", "gained"
MOST_ALONG = 40  # dots along a side of the map
MOST_LISTED = 10
_NEAR_EQUAL = 0.5  # difference in chance from which a colour is full
_CORNERS_AT = ((0.5, 1.0), (0.0, 0.0), (1.0, 0.0))


def smell_rows(found: Replacement) -> list[dict[str, Any]]:
    """Rows for `smell_chart`: shares of the smell, before, at each hour."""
    rows = []
    for kind, shares in zip((KEPT, LOST, GAINED), found.hourly.tolist(), strict=True):
        for hour, share in zip(SCENT_HOURS, shares, strict=True):
            own = {"hour": _hour_words(hour), "rank": hour, "kind": kind, "share": share}
            rows.append(own | {"drawn": min(share, 1.0) * (-1 if kind == LOST else 1)})
    return rows


def map_rows(
    made: BlendMap, kept: Mapping[int, str], here: int | None = None
) -> list[dict[str, Any]]:
    """Rows for `map_chart`: corners, then dots; those between the calculated ones are blended.

    Parameters
    ----------
    made : BlendMap
    kept : mapping of int to str
        Names of kept versions, by dot.
    here : int, optional
        A dot to draw in any case.
    """
    total = int(made.dots[0].sum())
    step = -(-total // MOST_ALONG)
    drawn = np.flatnonzero(
        (made.dots[:, :2] % step == 0).all(axis=1) | (made.dots.max(axis=1) == total)
    )
    drawn = np.unique([*drawn, *kept, *([] if here is None else [here])]).astype(int)
    away = ((made.dots[drawn, None] - made.dots[made.grid]) ** 2).sum(axis=2) + 1e-6
    nearness = away**-2.0
    chances = np.einsum(
        "dg,ghc->dhc", nearness / nearness.sum(axis=1, keepdims=True), made.leads
    )
    leads, ordered = chances.argmax(axis=2), np.sort(chances, axis=2)
    sure = np.clip((ordered[..., -1] - ordered[..., -2]) / _NEAR_EQUAL, 0, 1).round(2)
    at = (made.dots[drawn] / total) @ np.array(_CORNERS_AT)
    rows: list[dict[str, Any]] = [
        {"corner": name, "place": place, "x": x, "y": y}
        for place, (name, (x, y)) in enumerate(zip(made.corners[:3], _CORNERS_AT, strict=True))
    ]
    for number, dot in enumerate(drawn.tolist()):
        row = {"pick": dot, "x": at[number, 0], "y": at[number, 1], "along": total / step}
        row |= {"leads": leads[number].tolist(), "sures": sure[number].tolist()}
        barred = made.barred_by[dot]
        words = f"{point_words(made, dot)}{f'; over: {barred}' if barred else ''}"
        row |= {"barred": barred, "words": words}
        rows.append(row | ({"kept": kept[dot]} if dot in kept else {}))
    return rows


def point_words(made: BlendMap, dot: int) -> str:
    """Drops of the corners at a dot."""
    counts = zip(made.corners, made.dots[dot].tolist(), strict=False)
    return ", ".join(f"{name} {made.bottle.blend.plain_count(count)}" for name, count in counts)


def lead_words(made: BlendMap, leads: Sequence[Sequence[float]], hours: Iterable[float]) -> str:
    """Who leads at each hour, with the chance of each that may."""
    said = []
    for hour, chances in zip(hours, leads, strict=True):
        names = zip(made.corners, chances, strict=True)
        likely = sorted(((c, n) for n, c in names if c >= 0.1), reverse=True)
        of_ten = ", ".join(f"{name} {round(chance * 10)} in 10" for chance, name in likely)
        said.append(f"{_hour_words(hour)} {of_ten}")
    return f"Leads: {'; '.join(said)}."


def more_rows(
    ranked: Sequence[OneMore], by: str, prices: Mapping[str, str]
) -> list[dict[str, Any]]:
    """Rows for `more_chart`: the first oils of a ranking, with what each adds and costs."""
    rows: list[dict[str, Any]] = []
    for each in ranked[:MOST_LISTED]:
        adds, drawn = f"{show(each.heard * each.new * 100, 2)} % new", each.heard * each.new
        if by == LENGTHEN:
            adds = f"{show(each.longer_h, 2)} h longer" if each.longer_h else "no longer"
            adds = "lasts over a week" if np.isinf(each.longer_h) else adds
            drawn = min(each.longer_h / LAST_HOUR, 1.0) ** 0.5
        allowed = "within the limits" if each.is_allowed else "over a limit"
        said = adds, prices.get(each.oil), None if each.is_allowed else allowed
        words = " · ".join(filter(None, said))
        own = {"rank": len(rows), "label": catalogue.oil(each.oil).name, "words": words}
        rows.append(own | {"drawn": drawn, "allowed": allowed})
    return [row for row in rows if row["drawn"] > 0]


def tonight_table(rows: Iterable[tuple[str, Tonight]], nothing: str) -> str:
    """Kept blends by name, and what is missing for one bottle of each, as HTML."""
    cells = [("●◐○"[min(len(each.short), 2)], name, each.words) for name, each in rows]
    caption = "● all there · ◐ one short · ○ more short"
    return table(caption, ("", "Kept blend", "For one bottle"), cells, nothing)


def _hour_words(hour: float) -> str:
    if not hour:
        return "at first"
    return f"{show(hour * 60)} min" if hour < 1 else f"{show(hour)} h"
