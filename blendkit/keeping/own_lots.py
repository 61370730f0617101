"""Own lots: analysed lots of shipped oils, kept in the store and used like any other oil.

Importing this makes `blendkit.materials.catalogue` know them. SQLite is imported on first use,
so that ``import blendkit`` stays light.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from blendkit.foundation.errors import BadNumber, UnknownMaterial
from blendkit.materials import catalogue
from blendkit.materials.analysed_lots import as_document, own_oil
from blendkit.materials.catalogue import Oil

if TYPE_CHECKING:
    from blendkit.journal.records import LotRow
    from blendkit.materials.analyses import Analysis


def keep_lot(oil_id: str, lot: str, analysis: Analysis) -> Oil:
    """Keep an analysed lot of a shipped oil in the maker's store.

    Parameters
    ----------
    oil_id : str
        The shipped oil that was analysed.
    lot : str
        The supplier's lot, or any name for it.
    analysis : Analysis
        From `read_analysis`.

    Returns
    -------
    Oil
        Its id is ``"<oil>@<lot>"``, and can be used wherever an oil's id can. The newest
        analysis of a lot counts; earlier ones stay in the store.

    Raises
    ------
    BadNumber
        The lot has no name.
    UnknownMaterial
        No such shipped oil.
    CannotJournal
        The store cannot be written. Nothing was changed.
    """
    from blendkit.journal.records import LotRow
    from blendkit.journal.store import now
    from blendkit.keeping.open_store import the_journal

    document = as_document(analysis)
    oil = own_oil(oil_id, lot, document)
    name = oil.id.partition(catalogue.OWN_MARK)[2]
    the_journal().add(LotRow(oil=oil_id, lot=name, analysis=document, kept_at=now()))
    return oil


_last: tuple[object, dict[str, Oil]] = (None, {})


def own_oils() -> dict[str, Oil]:
    """Every own lot as an oil, by id; none where the store is not begun or cannot be read.

    They are read again only where a lot was written since.
    """
    from blendkit.journal.errors import CannotJournal
    from blendkit.journal.records import LotRow
    from blendkit.keeping.open_store import is_begun, the_journal

    global _last  # noqa: PLW0603 - the one cache of the one open store
    if not is_begun():
        return {}
    with contextlib.suppress(CannotJournal):
        journal = the_journal()
        mark = (journal.path, journal.written_of(LotRow))
        if _last[0] != mark:
            _last = (mark, dict(_sound(journal.all(LotRow))))
        return _last[1]
    return {}


def _sound(rows: Iterable[LotRow]) -> Iterator[tuple[str, Oil]]:
    for row in rows:
        # one lot that cannot be used must not take the whole shelf with it
        with contextlib.suppress(BadNumber, UnknownMaterial):
            oil = own_oil(row.oil, row.lot, row.analysis)
            yield oil.id, oil


catalogue.use_own_materials(own_oils)
