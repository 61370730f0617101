"""Own lots and own materials, kept in the store and used like any other material.

Importing this makes `blendkit.materials.catalogue` know them. SQLite is imported on first use,
so that ``import blendkit`` stays light.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from blendkit.foundation.errors import BadNumber, Problem, UnknownMaterial, quoted
from blendkit.foundation.units import KG_PER_M3_PER_G_PER_ML, to_si
from blendkit.journal.records import LotRow, OwnMaterialRow
from blendkit.materials import catalogue
from blendkit.materials.amounts import material
from blendkit.materials.analysed_lots import as_document, own_oil
from blendkit.materials.analyses import Analysis
from blendkit.materials.catalogue import Carrier, MixedMaterial, Oil, Own
from blendkit.materials.own_materials import MIXTURE, own_id, read_all, read_material

if TYPE_CHECKING:
    from blendkit.journal.store import Journal


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
    from blendkit.journal.store import now
    from blendkit.keeping.open_store import the_journal

    document = as_document(analysis)
    oil = own_oil(oil_id, lot, document)
    name = oil.id.partition(catalogue.OWN_MARK)[2]
    the_journal().add(LotRow(oil=oil_id, lot=name, analysis=document, kept_at=now()))
    return oil


def keep_mixture(
    name: str,
    parts: Mapping[str, float],
    by: str = "mass",
    *,
    note: str | None = None,
    drops_per_ml: float | None = None,
    drop_sizes: Mapping[str, float] | None = None,
    botanicals: str = "",
    keeps_months: float | None = None,
) -> MixedMaterial:
    """Keep a mixture of materials in the maker's store: a dilution, an accord, an infusion.

    Parameters
    ----------
    name : str
        Such as "Rose otto 3 % in jojoba". Under a name that is kept already this is a new
        version; blends and mixtures that hold the one before keep that one.
    parts : mapping of str to float
        Ids of oils, carriers and own materials with amounts; only proportions count.
    by : str, optional
        "mass", "volume" or "drops".
    note : str, optional
        "top", "middle", "base", or "carrier" for what is poured; that of most of its oils
        where left out.
    drops_per_ml : float, optional
        Of the mixture with its own dropper. [1/mL]
    drop_sizes : mapping of str to float, optional
        Drops per mL of the parts, for parts by drops; 20 where left out, the trade's rule.
    botanicals : str, optional
        Plants steeped in it and strained out; what they give off stays unknown.
    keeps_months : float, optional
        The maker's own figure; left out, it keeps as long as its weakest part. [months]

    Returns
    -------
    MixedMaterial
        Its id, "my-rose-otto-3-in-jojoba", can be used wherever an oil's or a carrier's can.

    Raises
    ------
    BadNumber
        Lists everything that cannot be used; or a mixture that would hold itself.
    UnknownMaterial
        No such part.
    CannotJournal
        The store cannot be written. Nothing was changed.
    """
    document = _filled(
        kind=MIXTURE, by=by, note=note, drops_per_ml=drops_per_ml, botanicals=botanicals,
        drop_sizes=_pinned(drop_sizes or {}), keeps_months=keeps_months,
    )  # fmt: skip
    kept = _keep(name, {**document, "parts": _pinned(parts)})
    assert isinstance(kept, MixedMaterial)
    return kept


def keep_material(
    name: str,
    kind: str = "oil",
    *,
    density: str | tuple[str, str] | None = None,
    analysis: Analysis | Mapping[str, Any] | None = None,
    like: str | None = None,
    **known: Any,
) -> Oil | Carrier:
    """Keep a material that is on no record, with as much as is known of it.

    Parameters
    ----------
    name : str
        Under a name that is kept already this is a new version.
    kind : str, optional
        "oil", "carrier", or "additive", which counts as a carrier.
    density : str or (str, str), optional
        Such as "0.92 g/mL"; or a mass and the volume that was weighed: ("9.2 g", "10 mL").
    analysis : Analysis or mapping, optional
        From `read_analysis`, or as a kept material has it; for an oil.
    like : str, optional
        Id of a material whose density it takes, where none is given; for a carrier, whose kind
        it has in the fade.
    **known
        ``latin_name``, ``inci``, ``note``, ``odour_words``, ``caution`` (the supplier's words),
        ``allergen_group`` (of `ALLERGY_GROUPS`), ``keeps_months``.

    Returns
    -------
    Oil or Carrier
        Its id can be used wherever a shipped one can. What is not known stays unknown: no skin
        check without an analysis, no label without an INCI name.

    Raises
    ------
    BadNumber
        Lists everything that cannot be used.
    UnknownMaterial
        No such material to be like.
    CannotJournal
        The store cannot be written. Nothing was changed.
    """
    g_per_ml, how = _density(density)
    return _keep(
        name,
        _filled(
            kind=kind, density_g_per_ml=g_per_ml, density_by=how,
            like=catalogue.pinned(like) if isinstance(like, str) else like,
            analysis=as_document(analysis) if isinstance(analysis, Analysis) else analysis,
            **known,
        ),
    )  # fmt: skip


def _density(given: str | tuple[str, str] | None) -> tuple[float | None, str]:
    """A density as typed or weighed, and how it was found. [g/mL]"""
    if given is None:
        return None, ""
    if not isinstance(given, tuple):
        return to_si(given, "kg/m**3", name="density") / KG_PER_M3_PER_G_PER_ML, ""
    mass, volume = given
    kg, m3 = to_si(mass, "kg", name="mass"), to_si(volume, "m**3", name="volume")
    if not (kg > 0 and m3 > 0):
        raise BadNumber([Problem("density", quoted(given), "a mass and a volume above 0")])
    return kg / m3 / KG_PER_M3_PER_G_PER_ML, f"weighed by the maker: {mass} in {volume}"


def _filled(**document: Any) -> dict[str, Any]:
    return {key: value for key, value in document.items() if value not in (None, "", {})}


def _pinned(amounts: Any) -> Any:
    """Amounts by the versions that the ids mean now; what is no mapping is refused later."""
    if not isinstance(amounts, Mapping):
        return amounts
    return {catalogue.pinned(str(key)): value for key, value in amounts.items()}


def _keep(name: str, document: Mapping[str, Any]) -> Oil | Carrier:
    """Write one version of an own material, where the newest is not the very same."""
    from blendkit.journal.store import now
    from blendkit.keeping.open_store import the_journal

    name = " ".join(str(name).split())
    made = read_material(own_id(name), name, document, material)
    plain = json.loads(json.dumps(document))  # as the store gives it back
    kept = [row for row in the_journal().all(OwnMaterialRow) if own_id(row.name) == made.id]
    if not kept or (kept[-1].name, kept[-1].document) != (name, plain):
        the_journal().add(OwnMaterialRow(name=name, document=plain, kept_at=now()))
    return material(made.id)


def own_materials() -> Own:
    """All own lots and own materials; none where the store is not begun or cannot be read."""
    from blendkit.keeping.open_store import is_begun, read_or

    return read_or(_own_now, Own()) if is_begun() else Own()


def _own_now(journal: Journal) -> Own:
    return _own(journal, journal.written_of(LotRow, OwnMaterialRow))


@lru_cache(maxsize=1)
def _own(journal: Journal, state: tuple[int, ...]) -> Own:
    """What a journal holds, read again only where some was written since."""
    rows = [(row.name, row.document) for row in journal.all(OwnMaterialRow)]
    return read_all(_sound(journal.all(LotRow)), rows)


def _sound(rows: Iterable[LotRow]) -> Iterator[Oil]:
    for row in rows:
        # one lot that cannot be used must not take the whole shelf with it
        with contextlib.suppress(BadNumber, UnknownMaterial):
            yield own_oil(row.oil, row.lot, row.analysis)


catalogue.use_own_materials(own_materials)
