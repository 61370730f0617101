"""From a supplier's lot to batches, bottles and people, and back.

A mixture of the maker's own is followed through: the lot of an oil went into a making, and that
into a batch. Where no lot was written down nothing is ruled out: what may hold the lot is found
as well, and kept apart from what does.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple, TypeVar

from blendkit.journal.records import (
    BatchBottles,
    BatchMaterial,
    BatchRow,
    BlendRow,
    HandoverRow,
    MakingRow,
    Version,
)
from blendkit.journal.store import Journal
from blendkit.making.bench_words import name_of
from blendkit.materials import catalogue
from blendkit.materials.catalogue import OWN, OWN_MARK, MixedMaterial

_DEEPEST = 8  # mixtures within mixtures
Row = TypeVar("Row", BatchBottles, BatchMaterial, HandoverRow)


class Source(NamedTuple):
    """A material that went into a batch.

    Attributes
    ----------
    material : str
        Id without a lot.
    lot : str
        The supplier's; empty where none was written down.
    through : tuple of str
        Lots of the mixtures in between, the outermost first.
    is_sure : bool
        False where one of several makings of a mixture may have gone in.
    """

    material: str
    lot: str
    through: tuple[str, ...] = ()
    is_sure: bool = True

    @property
    def name(self) -> str:
        """Name of the material; its id where it is no longer on record."""
        return name_of(self.material)


@dataclass(frozen=True)
class Trail:
    """A batch with what went into it and to whom its bottles went.

    Attributes
    ----------
    batch : BatchRow
    name : str
        Of the blend.
    bottles : int
        Filled.
    sources : tuple of Source
    handed : tuple of HandoverRow
    """

    batch: BatchRow
    name: str
    bottles: int
    sources: tuple[Source, ...]
    handed: tuple[HandoverRow, ...]

    @property
    def given(self) -> int:
        """Bottles that people got."""
        return sum(row.bottles for row in self.handed)

    @property
    def here(self) -> int:
        """Bottles that nobody got."""
        return max(self.bottles - self.given, 0)


_START = Source("", "")


class Recall(NamedTuple):
    """What holds a lot.

    Attributes
    ----------
    certain, possible : tuple of Trail
        Batches that hold it by what was written down; batches that may, for want of a lot.
    mixtures : tuple of str
        Lots of mixtures made with it, in a batch or still on the shelf.
    """

    certain: tuple[Trail, ...]
    possible: tuple[Trail, ...] = ()
    mixtures: tuple[str, ...] = ()


def trails(journal: Journal) -> tuple[Trail, ...]:
    """Every batch with its trail, the newest first."""
    versions = {row.id: row.blend_id for row in journal.all(Version)}
    names = {row.id: row.name for row in journal.all(BlendRow)}
    makings = journal.all(MakingRow)
    bottles = _by_batch(journal.all(BatchBottles))
    materials = _by_batch(journal.all(BatchMaterial))
    handed = _by_batch(journal.all(HandoverRow))
    return tuple(
        Trail(
            batch,
            names.get(versions.get(batch.version_id, ""), ""),
            sum(row.count for row in bottles.get(batch.id, ())),
            tuple(dict.fromkeys(
                source for row in materials.get(batch.id, ())
                for source in _sources(row.material, row.supplier_lot, batch.made_on, makings)
            )),
            tuple(handed.get(batch.id, ())),
        )
        for batch in reversed(journal.all(BatchRow))
    )  # fmt: skip


def recall(found: Iterable[Trail], journal: Journal, oil: str, lot: str) -> Recall:
    """Find what holds a supplier's lot of a material, and what may; `oil` is its id."""
    groups: dict[str, list[Trail]] = {"sure": [], "perhaps": [], "": []}
    for trail in found:
        groups[_holds(trail.sources, oil, lot)].append(trail)
    makings = journal.all(MakingRow)
    mixtures = tuple(
        row.lot for row in makings
        if _holds(_sources(row.material, row.lot, row.made_on, makings), oil, lot) == "sure"
    )  # fmt: skip
    return Recall(tuple(groups["sure"]), tuple(groups["perhaps"]), mixtures)


def lots(found: Iterable[Trail]) -> list[Source]:
    """Every supplier's lot that a batch holds or may hold, by name."""
    held = {source[:2] for trail in found for source in trail.sources if source.lot}
    return sorted((Source(*each) for each in held), key=lambda each: (each.name, each.lot))


def _holds(sources: Iterable[Source], oil: str, lot: str) -> str:
    mine = [source for source in sources if source.material == oil]
    same = [source for source in mine if _plain(source.lot) == _plain(lot)]
    if any(source.is_sure for source in same):
        return "sure"
    return "perhaps" if same or any(not source.lot for source in mine) else ""


def _plain(lot: str) -> str:
    return "".join(lot.split()).casefold()


def _sources(
    id: str,
    lot: str,
    day: date,
    makings: Sequence[MakingRow],
    before: Source = _START,
) -> Iterator[Source]:
    """What a material consists of: itself, or the materials of an own mixture."""
    base, _, rest = id.partition(OWN_MARK)
    if not base.startswith(OWN):
        yield before._replace(material=base, lot=lot.strip() or rest)
        return
    mine = [
        row for row in makings
        if row.material.partition(OWN_MARK)[0] == base and row.lot not in before.through
        and (_plain(row.lot) == _plain(lot) if lot.strip() else row.made_on <= day)
    ][: 0 if len(before.through) >= _DEEPEST else None]  # fmt: skip
    for row in mine:
        is_sure = before.is_sure and (bool(lot.strip()) or len(mine) == 1)
        inside = Source("", "", (*before.through, row.lot), is_sure)
        for part in row.taken_ml:
            yield from _sources(part, "", row.made_on, makings, inside)
    if mine:
        return
    item = catalogue.find_own(id)
    if isinstance(item, MixedMaterial):
        for held, _share in item.made_of:
            yield from _sources(held.id, "", day, makings, before)
    else:
        yield before._replace(material=base, lot=lot.strip())


def _by_batch(rows: Iterable[Row]) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(row.batch_id, []).append(row)
    return found
