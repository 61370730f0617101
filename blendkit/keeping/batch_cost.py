"""Cost of a batch from what was bought: the call for a cell."""

from collections.abc import Mapping, Sequence

from blendkit.batch.cost import Cost, Extra
from blendkit.batch.cost import cost as cost_from
from blendkit.batch.master import Master
from blendkit.batch.scaling import Batch
from blendkit.batch.stock import OnShelf


def cost(
    batch: Batch | Master,
    there: Mapping[str, OnShelf] | None = None,
    *,
    currency: str,
    extras: Sequence[Extra] = (),
) -> Cost:
    """Cost of a batch by material, packaging and labour.

    Parameters
    ----------
    batch : Batch or Master
        Not yet taken off the shelf.
    there : mapping of str to OnShelf, optional
        By shelf id; what is left in the maker's store where left out.
    currency : str
        The maker's, as a three-letter code.
    extras : sequence of Extra, optional
        From `packaging` and `labour`.

    Raises
    ------
    BadNumber
        No currency code; or lists everything that was paid in another currency.
    CannotJournal
        The store cannot be read.
    """
    if there is None:
        # SQLite is imported on first use, so that `import blendkit` stays light
        from blendkit.keeping.open_store import is_begun, the_journal
        from blendkit.keeping.stock_entries import current_stock

        there = current_stock(the_journal()) if is_begun() else {}
    return cost_from(batch, there, currency=currency, extras=extras)
