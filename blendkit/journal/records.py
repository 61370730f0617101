"""Records of the journal: one class a table, and the marks of their fields.

Figures are in the unit they were read in, as in the data tables: mL off a bottle, g off a
scale. Whoever computes turns them into SI. An instant carries its offset from UTC.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any, ClassVar, TypeVar, dataclass_transform

MADE_IN_CLASS = "made in class: "  # begins the reason of a learner's version
ABOUT = ("version_id", "batch_id", "session_id")
NOT_WRITTEN = datetime.fromtimestamp(0, UTC)


def filled() -> Any:
    """A text that may not be empty."""
    return field(metadata={"filled": True})


def among(*words: str, **options: Any) -> Any:
    """One of some words."""
    return field(metadata={"among": words}, **options)


def between(low: float, high: float = math.inf, **options: Any) -> Any:
    """A number within bounds."""
    return field(metadata={"low": low, "high": high}, **options)


@dataclass_transform(frozen_default=True, kw_only_default=True)
@dataclass(frozen=True, kw_only=True)
class Record:
    """What every row has; the journal fills these in.

    Attributes
    ----------
    id : str
        Which thing this is about; a correction keeps it. For references.
    row : str
        This row; differs from `id` in a correction.
    turn : int
        Order of writing: greater than that of every row known when it was written.
    recorded_at : datetime
        When it was written, by this computer's clock.
    withdrawn : bool
        Whether it was said not to have happened.
    """

    TABLE: ClassVar[str]
    ONE_OF: ClassVar[tuple[str, ...]] = ()  # at least one of these is given

    id: str = ""
    row: str = ""
    turn: int = 0
    recorded_at: datetime = NOT_WRITTEN
    withdrawn: bool = False

    def __init_subclass__(cls, table: str, one_of: tuple[str, ...] = ()) -> None:
        cls.TABLE, cls.ONE_OF = table, one_of
        dataclass(frozen=True, kw_only=True)(cls)


class BlendRow(Record, table="blends"):
    """A blend through all its versions."""

    name: str
    made_at: datetime
    note: str = ""


class Version(Record, table="versions"):
    """One version of a blend: its document, what it came from, and why it was made.

    Attributes
    ----------
    number : int
        As counted by the computer it was made on; two of them may count alike.
    computer : str
        What that computer is called; empty where that is not on record.
    """

    blend_id: str
    number: int = between(1)
    document: dict[str, Any]
    made_at: datetime
    why: str = ""
    parent_id: str | None = None
    computer: str = ""


class BatchRow(Record, table="batches"):
    """Bottles filled in one go, under one lot number; `computer` as of a `Version`."""

    version_id: str
    lot: str = filled()
    made_on: date
    note: str = ""
    computer: str = ""


class BatchBottles(Record, table="batch_bottles"):
    """How many bottles of one size a batch filled. [mL]"""

    batch_id: str
    count: int = between(1)
    size_ml: float = between(math.ulp(0.0))


class BatchMaterial(Record, table="batch_materials", one_of=("volume_ml", "mass_g")):
    """What went into a batch of one material, from which of the supplier's lots. [mL, g]"""

    batch_id: str
    material: str = filled()
    volume_ml: float | None = between(0, default=None)
    mass_g: float | None = between(0, default=None)
    supplier_lot: str = ""
    opened_on: date | None = None


class Session(Record, table="sessions"):
    """A sitting at the bench."""

    title: str
    started_at: datetime
    version_id: str | None = None
    batch_id: str | None = None


class EventRow(Record, table="events"):
    """What was done at the bench; the bench log knows the kinds and their details."""

    session_id: str
    kind: str = filled()
    details: dict[str, Any]
    happened_at: datetime


class Impression(Record, table="impressions", one_of=ABOUT):
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

    kind: str = among("sniff", "wear", "maceration")
    happened_at: datetime
    group: str = field(default="whole", metadata={"filled": True})
    strength: float | None = between(0, 10, default=None)
    words: str = ""
    version_id: str | None = None
    batch_id: str | None = None
    session_id: str | None = None
    minutes: float | None = between(0, default=None)
    smell: str = among("", "gone", "weak", "strongest", default="")
    details: dict[str, Any] = field(default_factory=dict)


class Like(Record, table="likes"):
    """True where somebody liked a version."""

    version_id: str
    person: str = filled()
    liked: bool
    happened_at: datetime
    words: str = ""


class Photo(Record, table="photos", one_of=ABOUT):
    """Where a photo lies; the photo itself stays where it is."""

    path: str = filled()
    taken_at: datetime
    caption: str = ""
    version_id: str | None = None
    batch_id: str | None = None
    session_id: str | None = None


class LotRow(Record, table="own_lots"):
    """An analysed lot of a shipped oil.

    `analysis` has "percents" [% by mass: low, typical, high] by constituent, "unmatched" [%] by
    name; and "whole", False where the rest stays as recorded for the oil.
    """

    oil: str = filled()
    lot: str = filled()
    analysis: dict[str, Any]
    kept_at: datetime


class OwnMaterialRow(Record, table="own_materials"):
    """One version of a mixture or other material of the maker's own."""

    name: str = filled()
    document: dict[str, Any]
    kept_at: datetime


class MakingRow(Record, table="makings"):
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

    material: str = filled()
    lot: str = filled()
    made_on: date
    volume_ml: float = between(math.ulp(0.0))
    taken_ml: dict[str, Any]
    price: float | None = between(math.ulp(0.0), default=None)
    currency: str | None = None
    note: str = ""


class PurchaseRow(Record, table="purchases"):
    """Bottles of one size that were bought together; `price` is that of one, in `currency`.

    `bottle_ml` [mL] is None where only something about an opened bottle is noted.
    """

    material: str = filled()
    bottle_ml: float | None = between(math.ulp(0.0), default=None)
    bottles: int = between(1, 1_000_000, default=1)
    price: float | None = between(math.ulp(0.0), default=None)
    currency: str | None = None
    bought_on: date | None = None
    opened_on: date | None = None
    entered_at: datetime


class CountRow(Record, table="counts"):
    """How much was left of a material when somebody looked. [mL]"""

    material: str = filled()
    left_ml: float = between(0)
    counted_on: date | None = None
    entered_at: datetime


class DropperRow(Record, table="droppers"):
    """The drop size of a material with the dropper it is used with. [1/mL]"""

    material: str = filled()
    drops_per_ml: float = between(math.ulp(0.0))
    how_measured: str
    entered_at: datetime


class PacksRow(Record, table="packs"):
    """A list of packs and their prices, as it was typed."""

    document: dict[str, Any]
    kept_at: datetime


class MakerRow(Record, table="makers"):
    """Name and contact of the maker, for a label."""

    maker: str
    contact: str
    kept_at: datetime


class ClassRow(Record, table="classes"):
    """A class with its people."""

    name: str
    document: dict[str, Any]
    kept_at: datetime


class OlderFileRow(Record, table="older_files"):
    """A file of an older folder that was read in: its name in the folder and its SHA-256."""

    file: str = filled()
    digest: str = filled()


class WeighingRow(Record, table="weighings"):
    """A weighing at home, as it was typed: strokes of a roller, or a drop that dries."""

    kind: str = among("strokes", "drop")
    document: dict[str, Any]
    weighed_at: datetime


class AnswerRow(Record, table="answers"):
    """One answer of a nose at a tray; `choosing` knows what each kind holds."""

    kind: str = among("loudness", "duel", "blind")
    nose: str
    document: dict[str, Any]
    answered_at: datetime


class BatchPaperRow(Record, table="batch_papers"):
    """What was written about a batch: its record, its release, a look at its stability."""

    batch_id: str
    kind: str = among("record", "release", "stability")
    document: dict[str, Any]
    dated_on: date


class StoringRow(Record, table="storing"):
    """How a material on the shelf is stored, and what was measured of its freshness."""

    material: str = filled()
    document: dict[str, Any]
    kept_at: datetime


class HandoverRow(Record, table="handovers"):
    """Bottles of a batch that went to somebody.

    `person` is an id in the table of people, which can be forgotten; empty for nobody named.
    """

    batch_id: str
    person: str = ""
    way: str = among("gift", "sale", "tester")
    bottles: int = between(1, default=1)
    handed_on: date
    document: dict[str, Any] = field(default_factory=dict)


# As they are defined here: what others refer to comes first
KINDS: tuple[type[Record], ...] = tuple(Record.__subclasses__())
AnyRecord = TypeVar("AnyRecord", bound=Record)
