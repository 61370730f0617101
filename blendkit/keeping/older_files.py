"""What an older folder holds as files, read into the store once; the files stay as they are.

A row marks each file that was read in, so that nothing comes in twice, also when it was
corrected or withdrawn since. The ids of its rows come from its content: the same folder read in
on two computers is there once after a merge. What cannot be used is passed by.
"""

import contextlib
import hashlib
import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import Any, NamedTuple

from blendkit.foundation import keep
from blendkit.foundation.errors import BlendkitError
from blendkit.foundation.units import YEARS, is_positive_number, is_whole_number
from blendkit.journal import records
from blendkit.journal.errors import CannotJournal
from blendkit.journal.records import Record
from blendkit.journal.store import Journal
from blendkit.keeping.nose_logs import WEAR, keep_log
from blendkit.keeping.stock_entries import MOST_BOTTLES, day_of
from blendkit.materials import catalogue
from blendkit.materials.amounts import material
from blendkit.materials.analysed_lots import own_oil

BLENDS, LOGS, LOTS, SHELF = "blends", "nose logs", "lots", "shelf"
PACKS, MAKERS, CLASSES = "packs", "makers", "classes"
# lots first: a blend may name one
KINDS = (LOTS, BLENDS, LOGS, SHELF, PACKS, MAKERS, CLASSES)
_LONG_AGO = datetime(1970, 1, 2, tzinfo=UTC)  # what every system can show
_UNUSABLE = (BlendkitError, KeyError, TypeError, ValueError, AttributeError, OverflowError)


class _File(NamedTuple):
    """A file with a JSON document."""

    path: Path
    document: dict[str, Any]
    written_at: datetime
    mark: records.OlderFileRow


def read_in(journal: Journal) -> int:
    """Read in every file that was not read in before, and count them.

    Where the store cannot be written, it has a warning.
    """
    known = {(row.file, row.digest) for row in journal.all(records.OlderFileRow)}
    added = 0
    for kind in KINDS:
        files = sorted(_files(kind), key=lambda file: str(file.document.get("written", "")))
        for file in files:
            if (file.mark.file, file.mark.digest) in known:
                continue
            try:
                _take(journal, kind, file, files)
                added += 1
            except CannotJournal as error:  # they come in another day
                journal.warn(f"Files of an older folder were not read in. {error}")
                return added
            except _UNUSABLE:
                continue
    return added


def _files(kind: str) -> Iterator[_File]:
    """The files of a kind that can be read, the oldest first."""
    for path in reversed(keep.saved(kind).values()):
        with contextlib.suppress(keep.CannotKeep, OSError):
            document, digest = keep.load(path), hashlib.sha256(path.read_bytes()).hexdigest()
            written_at = _moment(datetime.fromtimestamp, path.stat().st_mtime, UTC)
            mark = records.OlderFileRow(file=f"{kind}/{path.name}", digest=digest)
            yield _File(path, document, written_at, mark)


def _moment(
    read: Callable[..., datetime], *given: object, zone: tzinfo | None = None
) -> datetime:
    """A time that a file has or tells; long ago where a wrong clock or a hand set it."""
    try:
        moment = read(*given).astimezone(zone)  # Windows has none before 1970
    except (OSError, TypeError, ValueError, OverflowError):
        return _LONG_AGO
    return moment if moment.year in YEARS else _LONG_AGO


def _take(journal: Journal, kind: str, file: _File, files: Sequence[_File]) -> None:
    rows: list[Record] = []
    if kind == BLENDS:
        _take_blend(journal, file)
    elif kind == LOGS:
        _take_log(journal, file)
    elif kind == SHELF:
        struck = {str(each.document.get("takes_back", "")) for each in files}
        rows = list(_shelf_rows(file.document, struck))
    elif kind == LOTS:
        rows = [_lot_row(file)]
    elif kind == PACKS:
        rows = [records.PacksRow(document=file.document, kept_at=file.written_at)]
    elif kind == CLASSES:
        name = str(file.document.get("name") or file.path.stem)
        at = file.written_at
        rows = [records.ClassRow(name=name, document=file.document, kept_at=at)]
    else:
        maker, contact = (str(file.document.get(key, "")) for key in ("maker", "contact"))
        rows = [records.MakerRow(maker=maker, contact=contact, kept_at=file.written_at)]
    journal.add_under(
        [(_id_of(file, place), row) for place, row in enumerate((*rows, file.mark))]
    )


def _id_of(file: _File, place: int | str) -> str:
    text = f"{file.mark.file}\0{file.mark.digest}\0{place}"
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:32]


def _take_blend(journal: Journal, file: _File) -> None:
    """Keep a blend as a first version, unless an earlier program did so without a mark."""
    why, name = f"kept as {file.path.name}", file.document.get("name")
    there = journal.all(records.Version, number=1, why=why)
    if not any(version.document == file.document for version in there):
        name = name if isinstance(name, str) else file.path.stem
        blend = records.BlendRow(name=name, made_at=file.written_at)
        id, at = _id_of(file, "blend"), file.written_at
        first = records.Version(
            blend_id=id, number=1, document=file.document, why=why, made_at=at
        )
        journal.add_under([(id, blend), (_id_of(file, "version"), first)])


def _take_log(journal: Journal, file: _File) -> None:
    smelt = journal.all(records.Impression, kind=WEAR)
    if file.path.stem not in {one.details.get("file") for one in smelt}:
        ids = (_id_of(file, f"smell {place}") for place in itertools.count())
        keep_log(journal, file.document, file.written_at, file.path.stem, ids)


def _lot_row(file: _File) -> records.LotRow:
    document = file.document
    oil = own_oil(document["oil"], document["lot"], document)
    analysis = {"percents": document["percents"], "unmatched": document.get("unmatched", {})}
    lot = oil.id.partition(catalogue.OWN_MARK)[2]
    return records.LotRow(oil=oil.based_on, lot=lot, analysis=analysis, kept_at=file.written_at)


def _shelf_rows(entry: Mapping[str, Any], struck: set[str]) -> Iterator[Record]:
    """What an entry says that can be used; nothing where a later one takes it back."""
    if "takes_back" in entry or str(entry.get("written", "")) in struck:
        return
    common: dict[str, Any] = {
        "material": material(entry["oil"]).id,
        "entered_at": _moment(datetime.fromisoformat, entry.get("written"), zone=UTC),
    }
    left_ml, size = entry.get("left_ml"), entry.get("drops_per_ml")
    if left_ml == 0 or is_positive_number(left_ml):
        yield records.CountRow(
            left_ml=left_ml, counted_on=day_of(entry.get("counted_on")), **common
        )
        return
    if is_positive_number(size):
        way = entry.get("how_measured")
        yield records.DropperRow(
            drops_per_ml=size, how_measured=way if isinstance(way, str) else "", **common
        )
    bottles, known = entry.get("bottles", 1), dict(_sound(entry))
    if known and is_whole_number(bottles, 1, MOST_BOTTLES):
        yield records.PurchaseRow(bottles=bottles, **known, **common)


def _sound(entry: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    """What a hand-edited entry says of a bottle that can be used."""
    for key in ("bottle_ml", "price"):
        if is_positive_number(entry.get(key)):
            yield key, entry[key]
    for key in ("bought_on", "opened_on"):
        if day := day_of(entry.get(key)):
            yield key, day
    if isinstance(entry.get("currency"), str):
        yield "currency", entry["currency"]
