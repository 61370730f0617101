"""Details that are typed once and used again: prices of packs, the maker, and classes."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from blendkit.journal.records import ClassRow, MakerRow, PacksRow
from blendkit.journal.store import Journal, now


def keep_packs(journal: Journal, packs: Sequence[Mapping[str, str]]) -> PacksRow:
    """Keep a list of packs with their prices, as it was typed.

    Raises
    ------
    CannotJournal
    """
    rows = [dict(pack) for pack in packs]
    return journal.add(PacksRow(document={"packs": rows}, kept_at=now()))[0]


def kept_packs(journal: Journal, keys: Iterable[str]) -> list[dict[str, str]]:
    """The list of packs that was kept last, with these keys as text; empty where none was."""
    names, kept = tuple(keys), journal.all(PacksRow)
    rows = kept[-1].document.get("packs", []) if kept else []
    if not isinstance(rows, list):  # it may come from a file that was edited by hand
        return []
    return [{key: str(row.get(key, "")) for key in names}
            for row in rows if isinstance(row, dict)]  # fmt: skip


def keep_maker(journal: Journal, maker: str, contact: str) -> MakerRow:
    """Keep the maker's name and contact for labels.

    Raises
    ------
    CannotJournal
    """
    return journal.add(MakerRow(maker=maker, contact=contact, kept_at=now()))[0]


def kept_maker(journal: Journal) -> tuple[str, str]:
    """The name and contact that were kept last; empty texts where none were."""
    kept = journal.all(MakerRow)
    return (kept[-1].maker, kept[-1].contact) if kept else ("", "")


def keep_class(journal: Journal, document: Mapping[str, Any]) -> tuple[ClassRow, bool]:
    """Keep a class; where the very same is kept already, nothing is written.

    Returns
    -------
    row : ClassRow
    is_new : bool

    Raises
    ------
    CannotJournal
    """
    for row in journal.all(ClassRow):
        if row.document == document:
            return row, False
    name = str(document.get("name") or "Untitled class")
    row = ClassRow(name=name, document=dict(document), kept_at=now())
    return journal.add(row)[0], True


def kept_classes(journal: Journal) -> list[ClassRow]:
    """Every class that was kept, newest first."""
    return journal.all(ClassRow)[::-1]
