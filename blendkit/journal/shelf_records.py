"""What the journal keeps of the shelf: lots, own materials, purchases, counts, storing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from blendkit.journal.record import Record, between, filled


@dataclass(frozen=True, kw_only=True)
class LotRow(Record):
    """An analysed lot of a shipped oil.

    Attributes
    ----------
    analysis : dict
        "percents" [% by mass: low, typical, high] by constituent, "unmatched" [%] by name; and
        "whole", False where the rest stays as recorded for the oil.
    """

    TABLE = "own_lots"

    oil: str = filled()
    lot: str = filled()
    analysis: dict[str, Any]
    kept_at: datetime


@dataclass(frozen=True, kw_only=True)
class OwnMaterialRow(Record):
    """One version of a mixture or other material of the maker's own."""

    TABLE = "own_materials"

    name: str = filled()
    document: dict[str, Any]
    kept_at: datetime


@dataclass(frozen=True, kw_only=True)
class MakingRow(Record):
    """A batch of a mixture, made to be kept on the shelf under a lot of its own.

    Attributes
    ----------
    material : str
        Id of the version that was made.
    taken_ml : dict
        Volume of each material it was made from, by id. [mL]
    price : float or None
        Cost of all of it, in `currency`; None where a part has no price on record.
    """

    TABLE = "makings"

    material: str = filled()
    lot: str = filled()
    made_on: date
    volume_ml: float = between(math.ulp(0.0))
    taken_ml: dict[str, Any]
    price: float | None = between(math.ulp(0.0), default=None)
    currency: str | None = None
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class PurchaseRow(Record):
    """Bottles of one size that were bought together.

    Attributes
    ----------
    bottle_ml : float or None
        Size of one bottle; None where only something about an opened bottle is noted. [mL]
    price : float or None
        Of one bottle, in `currency`.
    """

    TABLE = "purchases"

    material: str = filled()
    bottle_ml: float | None = between(math.ulp(0.0), default=None)
    bottles: int = between(1, 1_000_000, default=1)
    price: float | None = between(math.ulp(0.0), default=None)
    currency: str | None = None
    bought_on: date | None = None
    opened_on: date | None = None
    entered_at: datetime


@dataclass(frozen=True, kw_only=True)
class CountRow(Record):
    """How much was left of a material when somebody looked. [mL]"""

    TABLE = "counts"

    material: str = filled()
    left_ml: float = between(0)
    counted_on: date | None = None
    entered_at: datetime


@dataclass(frozen=True, kw_only=True)
class DropperRow(Record):
    """The drop size of a material with the dropper it is used with. [1/mL]"""

    TABLE = "droppers"

    material: str = filled()
    drops_per_ml: float = between(math.ulp(0.0))
    how_measured: str
    entered_at: datetime


@dataclass(frozen=True, kw_only=True)
class PacksRow(Record):
    """A list of packs and their prices, as it was typed."""

    TABLE = "packs"

    document: dict[str, Any]
    kept_at: datetime


@dataclass(frozen=True, kw_only=True)
class StoringRow(Record):
    """How a material on the shelf is stored, and what was measured of its freshness."""

    TABLE = "storing"

    material: str = filled()
    document: dict[str, Any]
    kept_at: datetime
