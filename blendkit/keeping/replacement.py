"""A blend without an oil that ran out, from what is in stock: the call for a cell."""

import math
from collections.abc import Iterable

from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.choosing import same_smell
from blendkit.foundation.errors import Problem
from blendkit.foundation.units import show
from blendkit.materials import catalogue
from blendkit.materials.amounts import material
from blendkit.skin.counted_bottle import in_its_own_ratio
from blendkit.skin.reformulation import Infeasible


class NoRelative(Infeasible):
    """Nothing there smells near enough to the oil that is missing."""

    heading = "Nothing near enough can take its place"


def shelf_left() -> dict[str, float]:
    """Volume left of each material in stock; own lots of an oil share that of the oil. [m3]

    Raises
    ------
    CannotJournal
    """
    # SQLite is imported on first use, so that `import blendkit` stays light
    from blendkit.keeping.open_store import is_begun, the_journal
    from blendkit.keeping.stock_entries import current_stock

    stock = current_stock(the_journal()) if is_begun() else {}
    left = {name: row.left_m3 for name, row in stock.items() if row.left_m3 > 0}
    held = ((name, name.partition(catalogue.OWN_MARK)[0]) for name in catalogue.oil_ids())
    return left | {name: left[base] for name, base in held if base in left}


def oils_left() -> dict[str, float] | None:
    """As `shelf_left`, of oils alone; None where no oil is in stock. [m3]"""
    known = catalogue.oil_ids()
    return {name: left for name, left in shelf_left().items() if name in known} or None


def replace_oil(blend: BlendLike, missing: str, shelf: Iterable[str] | None = None) -> Blend:
    """The blend without one oil that smells most like the blend with it.

    Parameters
    ----------
    blend : Blend, document, or path
    missing : str
        Id of the oil, or of the own lot, that is not to be used.
    shelf : iterable of str, optional
        Ids of what there is, as much as needed. Where left out, what the store has in stock
        counts, and no more of it than is left; the whole catalogue where no oil is in stock.

    Returns
    -------
    Blend
        In whole drops, inside every limit that has a figure.

    Raises
    ------
    BadNumber
        The oil is not in the blend.
    UnknownMaterial
        No such material on the shelf.
    Infeasible
        Nothing on the shelf smells near enough to the oil (then a `NoRelative`); or no whole
        drops keep the limits.
    CannotJournal
        The store cannot be read.
    """
    names = [shelf] if isinstance(shelf, str) else shelf
    left = oils_left() if names is None else {material(n).id: math.inf for n in names}
    found = same_smell.replace_oil(as_blend(blend), missing, left)
    if not found.is_near:
        nearest = catalogue.oil(found.relative).name if found.relative else "nothing"
        got = f"{nearest}, which shares {show(found.relative_overlap * 100, 2)} % of its smell"
        needed = f"an oil that shares {show(same_smell.NEAR * 100)} % or more"
        fix = f"Leave it out, or buy it. {found.sentences[0]}"
        raise NoRelative([Problem(f"replacement of {missing}", got, needed, fix)])
    return in_its_own_ratio(found.blend)
