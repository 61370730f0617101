"""The rows of the chart of volatility."""

from collections.abc import Iterable, Iterator
from typing import Any

from blendkit.materials.catalogue import Oil, mean_vapour_pressure_pa
from blendkit.materials.constituents import constituent

EVAPORATES, STAYS, UNDESCRIBED = "evaporates", "does not evaporate", "not described"
_SMALLEST_SHARE = 0.005  # of an oil; less is no circle that could be seen


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
