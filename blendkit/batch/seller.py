"""What a seller needs besides the label, by region: pointers to local law, no advice of law."""

from __future__ import annotations

from typing import NamedTuple

from blendkit.blend.market import Market
from blendkit.foundation import data

IN_GENERAL = (
    "Pointers to local law, not legal advice, and not complete: ask your authority. "
    "This workbook is no assessment; suppliers' certificates, local law and a qualified "
    "assessor decide."
)


class Duty(NamedTuple):
    """One thing that a region's law asks of whoever sells.

    Attributes
    ----------
    step, text, source, grade : str
    """

    step: str
    text: str
    source: str
    grade: str


def duties(region: str) -> tuple[Duty, ...]:
    """What a seller in a region needs besides the label, in the order to see to it.

    Parameters
    ----------
    region : str
        "EU", "UK", "US" or "other".

    Raises
    ------
    BadNumber
        No such region.
    """
    region = Market(region).region
    rows = data.table("seller_duties")
    own = rows.loc[rows["region"] == region, list(Duty._fields)]
    return tuple(Duty._make(map(str, row)) for row in own.itertuples(index=False))
