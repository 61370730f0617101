"""What the journal keeps: one class a table; those of the shelf are in `shelf_records`.

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
from blendkit.journal.shelf_records import CountRow as CountRow  # noqa: PLC0414
from blendkit.journal.shelf_records import DropperRow as DropperRow  # noqa: PLC0414
from blendkit.journal.shelf_records import LotRow as LotRow  # noqa: PLC0414
from blendkit.journal.shelf_records import MakingRow as MakingRow  # noqa: PLC0414
from blendkit.journal.shelf_records import OwnMaterialRow as OwnMaterialRow  # noqa: PLC0414
from blendkit.journal.shelf_records import PacksRow as PacksRow  # noqa: PLC0414
from blendkit.journal.shelf_records import PurchaseRow as PurchaseRow  # noqa: PLC0414
from blendkit.journal.shelf_records import StoringRow as StoringRow  # noqa: PLC0414

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


@dataclass(frozen=True, kw_only=True)
class AnswerRow(Record):
    """One answer of a nose at a tray; `choosing` knows what each kind holds."""

    TABLE = "answers"

    kind: str = among("loudness", "duel", "blind")
    nose: str
    document: dict[str, Any]
    answered_at: datetime


@dataclass(frozen=True, kw_only=True)
class BatchPaperRow(Record):
    """What was written about a batch: its record, its release, a look at its stability."""

    TABLE = "batch_papers"

    batch_id: str
    kind: str = among("record", "release", "stability")
    document: dict[str, Any]
    dated_on: date


@dataclass(frozen=True, kw_only=True)
class HandoverRow(Record):
    """Bottles of a batch that went to somebody.

    Attributes
    ----------
    person : str
        Id in the table of people, which can be forgotten; empty where nobody is named.
    """

    TABLE = "handovers"

    batch_id: str
    person: str = ""
    way: str = among("gift", "sale", "tester")
    bottles: int = between(1, default=1)
    handed_on: date
    document: dict[str, Any] = field(default_factory=dict)


# What others refer to comes first
KINDS: tuple[type[Record], ...] = (
    BlendRow, Version, BatchRow, BatchBottles, BatchMaterial, Session, EventRow,
    Impression, Like, Photo, LotRow, OwnMaterialRow, MakingRow, PurchaseRow, CountRow,
    DropperRow, PacksRow, MakerRow, ClassRow, OlderFileRow, WeighingRow, AnswerRow,
    BatchPaperRow, StoringRow, HandoverRow,
)  # fmt: skip
AnyRecord = TypeVar("AnyRecord", bound=Record)
