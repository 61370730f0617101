"""The charts of the bench: smaller ones, to stand beside a bottle that is being filled."""

from __future__ import annotations

import altair as alt

from blendkit.showing.charts import day_chart


def small_day_chart() -> alt.LayerChart:
    """The fade of what is on the bench; as `day_chart`, lower, with nothing held beside it."""
    return day_chart(compared=False).properties(height=190)
