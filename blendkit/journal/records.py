"""What the journal keeps: one class a table.

Figures stand in the unit they were read in, as in the data tables: mL off a bottle, g off a
scale. Whoever computes turns them into SI. An instant carries its offset from UTC.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, TypeVar

from blendkit.journal.record import Record as Record  # noqa: PLC0414 - with its kinds
from blendkit.journal.record import among, between, filled

IMPRESSIONS = ("sniff", "wear", "maceration")
SMELLS = ("", "gone", "weak", "strongest")
STRONGEST = 10.0
MADE_IN_CLASS = "made in class: "  # begins the reason of a learner's version


@dataclass(frozen=True, kw_only=True)
class BlendRow(Record):
    """A blend through all its versions."""

    TABLE = "blends"

    name: str
    made_at: datetime
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Version(Record):
    """One version of a blend: its document, what it came from, and why it was made.

    Attributes
    ----------
    number : int
        As counted by the computer it was made on; two of them may count alike.
    computer : str
        What that computer is called; empty where that is not on record.
    """

    TABLE = "versions"

    blend_id: str
    number: int = between(1)
    document: dict[str, Any]
    made_at: datetime
    why: str = ""
    parent_id: str | None = None
    computer: str = ""


@dataclass(frozen=True, kw_only=True)
class BatchRow(Record):
    """Bottles filled in one go, under one lot number; `computer` as of a `Version`."""

    TABLE = "batches"

    version_id: str
    lot: str = filled()
    made_on: date
    note: str = ""
    computer: str = ""


@dataclass(frozen=True, kw_only=True)
class BatchBottles(Record):
    """How many bottles of one size a batch filled. [mL]"""

    TABLE = "batch_bottles"

    batch_id: str
    count: int = between(1)
    size_ml: float = between(math.ulp(0.0))


@dataclass(frozen=True, kw_only=True)
class BatchMaterial(Record):
    """What went into a batch of one material, from which of the supplier's lots. [mL, g]"""

    TABLE = "batch_materials"
    ONE_OF = ("volume_ml", "mass_g")

    batch_id: str
    material: str = filled()
    volume_ml: float | None = between(0, default=None)
    mass_g: float | None = between(0, default=None)
    supplier_lot: str = ""
    opened_on: date | None = None


@dataclass(frozen=True, kw_only=True)
class Session(Record):
    """A sitting at the bench."""

    TABLE = "sessions"

    title: str
    started_at: datetime
    version_id: str | None = None
    batch_id: str | None = None


@dataclass(frozen=True, kw_only=True)
class EventRow(Record):
    """What was done at the bench; the bench log knows the kinds and their details."""

    TABLE = "events"

    session_id: str
    kind: str = filled()
    details: dict[str, Any]
    happened_at: datetime


@dataclass(frozen=True, kw_only=True)
class Impression(Record):
    """What was smelt: of the whole, a note or an oil, at a time.

    Attributes
    ----------
    strength : float or None
        From 0, nothing, to 10, as strong as at the start.
    minutes : float or None
        Since it was put on.
    smell : str
        "gone", "weak", "strongest" or nothing.
    """

    TABLE = "impressions"
    ONE_OF = ("version_id", "batch_id", "session_id")

    kind: str = among(*IMPRESSIONS)
    happened_at: datetime
    group: str = field(default="whole", metadata={"filled": True})
    strength: float | None = between(0, STRONGEST, default=None)
    words: str = ""
    version_id: str | None = None
    batch_id: str | None = None
    session_id: str | None = None
    minutes: float | None = between(0, default=None)
    smell: str = among(*SMELLS, default="")
    details: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Like(Record):
    """True where somebody liked a version."""

    TABLE = "likes"

    version_id: str
    person: str = filled()
    liked: bool
    happened_at: datetime
    words: str = ""


@dataclass(frozen=True, kw_only=True)
class Photo(Record):
    """Where a photo lies; the photo itself stays where it is."""

    TABLE = "photos"
    ONE_OF = ("version_id", "batch_id", "session_id")

    path: str = filled()
    taken_at: datetime
    caption: str = ""
    version_id: str | None = None
    batch_id: str | None = None
    session_id: str | None = None


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
class MakerRow(Record):
    """Name and contact of the maker, for a label."""

    TABLE = "makers"

    maker: str
    contact: str
    kept_at: datetime


@dataclass(frozen=True, kw_only=True)
class ClassRow(Record):
    """A class with its people."""

    TABLE = "classes"

    name: str
    document: dict[str, Any]
    kept_at: datetime


@dataclass(frozen=True, kw_only=True)
class OlderFileRow(Record):
    """A file of an older folder that was read in: its name in the folder and its SHA-256."""

    TABLE = "older_files"

    file: str = filled()
    digest: str = filled()


@dataclass(frozen=True, kw_only=True)
class WeighingRow(Record):
    """A weighing at home, as it was typed: strokes of a roller, or a drop that dries."""

    TABLE = "weighings"

    kind: str = among("strokes", "drop")
    document: dict[str, Any]
    weighed_at: datetime


# What others refer to comes first
KINDS: tuple[type[Record], ...] = (
    BlendRow, Version, BatchRow, BatchBottles, BatchMaterial, Session, EventRow,
    Impression, Like, Photo, LotRow, OwnMaterialRow, MakingRow, PurchaseRow, CountRow,
    DropperRow, PacksRow, MakerRow, ClassRow, OlderFileRow, WeighingRow,
)  # fmt: skip
AnyRecord = TypeVar("AnyRecord", bound=Record)
