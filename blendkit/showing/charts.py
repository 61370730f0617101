"""Charts for a cell: each an Altair chart with its data.

Altair takes a second to import, so it is imported by the first chart and not with the package.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import time
from typing import TYPE_CHECKING, Any

from blendkit.blend.blend import BlendLike, as_blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.fading import Hours, read_hours
from blendkit.evaporation.forecast import forecast
from blendkit.evaporation.wear import film_of
from blendkit.materials.catalogue import oil
from blendkit.showing.bottle.rows import drops_rows
from blendkit.showing.day.rows import fade_rows
from blendkit.showing.shelf.rows import volatility_rows
from blendkit.showing.skin.rows import limits_rows
from blendkit.skin.check import findings_in

if TYPE_CHECKING:
    from altair import LayerChart
    from pint import Quantity


def chart_drops(blend: BlendLike) -> LayerChart:
    """Whole drops of each oil, and the drops that its ratio asks for.

    Parameters
    ----------
    blend : Blend, document, or path

    Returns
    -------
    altair.LayerChart
        Bars for the whole drops and strokes for the target, with the data of both.
    """
    from blendkit.showing.bottle.charts import drops_chart

    return _filled(drops_chart(), drops_rows(as_blend(blend).bottle))


def chart_limits(
    blend: BlendLike, region: str | None = None, use: str | None = None
) -> LayerChart:
    """Share of each skin limit that a blend uses, worst first.

    Parameters
    ----------
    blend : Blend, document, or path
    region, use : str, optional
        As for `blendkit.skin_findings`, which says the same in figures and has what the chart
        leaves out: materials without a limit on record.

    Returns
    -------
    altair.LayerChart
        The 24 most used limits that have a figure.

    Raises
    ------
    BadNumber
        No such region or use.
    """
    from blendkit.showing.skin.charts import limits_chart

    blend = as_blend(blend)
    findings = findings_in(blend.bottle, blend.market.with_(region, use))
    return _filled(limits_chart(), limits_rows(findings))


def chart_fade(
    blend: BlendLike,
    hours: Hours = 12,
    skin_temperature: str | Quantity[Any] | None = None,
    film: str | Quantity[Any] = "20 g/m**2",
    air_speed: str | Quantity[Any] = "bare",
    surface: str = "skin",
    nose: str = "wrist",
    *,
    applied_at: time = time(9),
) -> LayerChart:
    """Strength of each note through the day, relative to its own start, with its bands.

    Parameters
    ----------
    blend : Blend, document, or path
    hours, skin_temperature, film, air_speed, surface, nose
        As for `blendkit.fade`, which gives the same as a table.
    applied_at : datetime.time, optional
        Where the axis of the time of day begins.

    Returns
    -------
    altair.LayerChart
        Bands of two in three and of nine in ten draws; above them how likely each note leads.

    Raises
    ------
    BadNumber
        Lists every condition that cannot be used.
    """
    from blendkit.showing.day.charts import fade_chart

    conditions = Conditions.read(skin_temperature, film, air_speed, surface, nose=nose)
    found = forecast(film_of(as_blend(blend).bottle, conditions), read_hours(hours))
    return _filled(fade_chart(), fade_rows(found, applied_at.hour + applied_at.minute / 60))


def chart_volatility(oil_ids: Iterable[str]) -> LayerChart:
    """Each oil as the spread of its constituents over vapour pressure at 25 °C.

    Parameters
    ----------
    oil_ids : iterable of str
        Shipped oils and own lots, such as the index of `blendkit.oils()`; drawn in this order.

    Returns
    -------
    altair.LayerChart
        One mark a constituent, its area the share of the oil. [Pa]

    Raises
    ------
    UnknownMaterial
        No such oil.
    """
    from blendkit.showing.shelf.charts import volatility_chart

    return _filled(volatility_chart(), volatility_rows(oil(name) for name in oil_ids))


def _filled(chart: LayerChart, rows: Iterable[dict[str, Any]]) -> LayerChart:
    from blendkit.showing.kit.chart_parts import DATA, draw_offline

    draw_offline()
    filled: LayerChart = chart.properties(datasets={DATA: list(rows)})
    return filled
