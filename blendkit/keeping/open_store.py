"""The one open store that everything shares, and what an older folder holds as files.

A panel must work without the store: `CannotJournal` is for its message line, never a reason
not to open.
"""

from collections.abc import Callable
from typing import TypeVar

from blendkit.foundation import keep
from blendkit.journal.backups import journal_path
from blendkit.journal.errors import CannotJournal
from blendkit.journal.store import Journal, open_journal
from blendkit.keeping.older_files import KINDS, read_in

Kept = TypeVar("Kept")
_REPLACED = (
    "{path} was moved or replaced while it was open. The file that is there now is used; the "
    "bench session on this page goes into it again."
)
_open: list[Journal] = []


def the_journal() -> Journal:
    """The store in the maker's folder, opened on first use and kept open.

    Raises
    ------
    CannotJournal
        With a way on.
    """
    path = journal_path()
    was_replaced = bool(_open) and _open[0].path == path and not _open[0].is_current()
    if _open and (_open[0].path != path or was_replaced):
        let_go()
    if not _open:
        _open.append(open_journal())  # before files are read in, which may name own lots
        if was_replaced:
            _open[0].warn(_REPLACED.format(path=path))
        try:
            read_in(_open[0])
        except BaseException:
            let_go()
            raise
    return _open[0]


def read_or(read: Callable[[Journal], Kept], otherwise: Kept) -> Kept:
    """Value that a reader finds in the store; another one where the store cannot be read.

    For what a panel can do without; elsewhere the refusal is shown.
    """
    try:
        return read(the_journal())
    except CannotJournal:
        return otherwise


def is_begun() -> bool:
    """True where the maker's folder holds a store, or older files that belong in one."""
    return (
        bool(_open)
        or journal_path().exists()
        or any((keep.home() / kind).is_dir() for kind in KINDS)
    )


def let_go() -> None:
    """Close the shared store; the next use opens and checks it again."""
    while _open:
        _open.pop().close()


def share(journal: Journal) -> None:
    """Share this store from now on, in place of the one before."""
    let_go()
    _open.append(journal)
