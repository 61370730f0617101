"""Constituents: the molecules that oils are made of, and the many names they go by."""

import math
import re
import unicodedata
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

import pandas as pd

from blendkit.foundation import data
from blendkit.foundation.errors import UnknownMaterial, near_miss, quoted
from blendkit.foundation.units import G_PER_KG

_J_PER_KJ = 1e3
_NO_FIGURE: dict[str, Any] = {"value": 0.0, "basis": "", "uncertainty_factor": 1.0}
_GREEK = str.maketrans({
    "α": "alpha", "β": "beta", "γ": "gamma", "δ": "delta", "ε": "epsilon", "τ": "tau",
    "Δ": "delta", "ω": "omega", "ß": "beta", "∆": "delta", "ɑ": "alpha", "ɣ": "gamma",
})  # fmt: skip
# prefixes of names on some certificates that do not change what the limits count
_STEREO = re.compile(r"^(?:\(?[+±-]\)?|\(?(?:r|s|e|z|rs)\)?|cis|trans|dl|d|l|rac)[\s-]+", re.I)
_PUNCTUATION = re.compile("[^a-z0-9]+")
_MOST_MARKS = 4  # "(+)-(E)-cis-"
_ISOMER = re.compile(r"^(?:(?:alpha|beta|gamma|delta|cis|trans|\([EZez]\))[\s-]+)+", re.I)


@dataclass(frozen=True)
class Constituent:
    """One molecule, or a group of molecules counted as one.

    Attributes
    ----------
    id : str
        Its CAS number where it has one.
    name, chemical_class : str
    molar_mass_kg_per_mol : float
    is_volatile : bool
        False where its vapour pressure is negligible over a day of wear.
    vapour_pressure_pa : float
        Of the liquid, sub-cooled for solids, at 25 degrees Celsius; 0 where not volatile. [Pa]
    vapour_pressure_basis : str
        How that figure was obtained.
    uncertainty_factor : float
        The vapour pressure may be this many times higher or lower. [-]
    enthalpy_of_vaporisation_j_per_mol : float
        0 where not volatile. [J/mol]
    log_kow : float
        Octanol-water partition, decadic logarithm; NaN where unknown. [-]
    """

    id: str
    name: str
    chemical_class: str
    molar_mass_kg_per_mol: float
    is_volatile: bool
    vapour_pressure_pa: float
    vapour_pressure_basis: str
    uncertainty_factor: float
    enthalpy_of_vaporisation_j_per_mol: float
    log_kow: float


def constituents() -> pd.DataFrame:
    """Every constituent on record, index = id (its CAS number where it has one)."""
    return data.table("constituents").set_index("id")


def figures(constituent_id: str) -> pd.DataFrame:
    """Every figure on record for one constituent, the ones not used among them."""
    table = data.table("constituent_figures")
    return table[table["constituent"] == constituent_id]


@cache
def _by_id() -> dict[str, Constituent]:
    used: dict[str, dict[str, dict[str, Any]]] = {}
    for row in data.rows("constituent_figures"):
        if row["used"] == "yes":
            used.setdefault(row["constituent"], {})[row["quantity"]] = row
    found = {}
    for row in data.rows("constituents"):
        name = row["id"]
        volatile = row["volatility"] == "volatile"
        own = used.get(name, {})
        of_vapour = own if volatile else {}
        pressure = of_vapour.get("vapour_pressure_25c", _NO_FIGURE)
        enthalpy = of_vapour.get("enthalpy_of_vaporisation", _NO_FIGURE)["value"]
        found[name] = Constituent(
            id=name,
            name=row["name"],
            chemical_class=row["chemical_class"],
            molar_mass_kg_per_mol=row["molar_mass_g_per_mol"] / G_PER_KG,
            is_volatile=volatile,
            vapour_pressure_pa=pressure["value"],
            vapour_pressure_basis=pressure["basis"],
            uncertainty_factor=pressure["uncertainty_factor"],
            enthalpy_of_vaporisation_j_per_mol=enthalpy * _J_PER_KJ,
            log_kow=own["log_kow"]["value"] if "log_kow" in own else math.nan,
        )
    return found


def constituent(constituent_id: str) -> Constituent:
    """One constituent by its id.

    Raises
    ------
    UnknownMaterial
        With the nearest known name.
    """
    known = _by_id()
    if constituent_id not in known:
        hint = near_miss(constituent_id, _ids_by_name()) or "See bk.constituents()."
        got = f"constituent: got {quoted(constituent_id)}; needs an id on record."
        raise UnknownMaterial(f"{got} {hint}")
    return known[constituent_id]


def plain_name(text: str) -> str:
    """A name without case, accents, Greek letters, spaces and punctuation.

    Examples
    --------
    >>> plain_name("α-Pinène"), plain_name("1,8-Cineole"), plain_name("β Caryophyllene")
    ('alphapinene', '18cineole', 'betacaryophyllene')
    """
    plain = unicodedata.normalize("NFKD", text).lower().translate(_GREEK)
    return _PUNCTUATION.sub("", plain)


@cache
def _ids_by_name() -> dict[str, str]:
    names = {plain_name(row["name"]): row["id"] for row in data.rows("constituents")}
    for row in data.rows("constituent_names"):
        if row["kind"] == "name":
            names.setdefault(plain_name(row["name"]), row["constituent"])
    return names


@cache
def _ids_by_cas() -> dict[str, str]:
    other = data.table("constituent_names").query("kind == 'cas'")
    ids = dict(zip(other["name"], other["constituent"], strict=True))
    return ids | {name: name for name in _by_id()}


def match(name: str, cas: str = "") -> Constituent | None:
    """The constituent that a name or a CAS number on a certificate means.

    The CAS number goes first; then the name as written; then the name without a leading mark
    of stereochemistry.

    Returns
    -------
    Constituent or None
        None where nothing on record matches. Near misses are not guessed.

    Examples
    --------
    >>> match("LIMONENE").name, match("", "78-70-6").name
    ('limonene', 'linalool')
    """
    found = _matching_id(name, cas)
    return None if found is None else _by_id()[found]


def match_shares(name: str, cas: str = "") -> dict[str, float]:
    """The constituents that a name means, with the share of each.

    Most names mean one constituent. A sum name such as "citral" means several; the usual
    shares between them are on record in `data/sum_names.csv`.

    Returns
    -------
    dict of str to float
        Share by constituent id; empty where nothing matches.

    Examples
    --------
    >>> sum(match_shares("Citral").values())
    1.0
    """
    found = _matching_id(name, cas)
    if found is not None:
        return {found: 1.0}
    sums = _sums_by_name()
    return dict(sums.get(cas.strip(), {}) or sums.get(plain_name(name), {}))


def contradict(name: str, cas: str) -> bool:
    """True where a name and a CAS number, both on record, mean different constituents.

    A name without a mark of its isomer ("asarone") contradicts the number of no isomer.

    Examples
    --------
    >>> contradict("linalool", "97-53-0"), contradict("eugenol", "97-53-0")
    (True, False)
    """
    sums = _sums_by_name()
    of_name = {_ids_by_name().get(plain_name(name), "")} - {""} or {
        *sums.get(plain_name(name), {})
    }
    of_cas = {_ids_by_cas().get(cas.strip(), "")} - {""} or {*sums.get(cas.strip(), {})}
    if not of_name or not of_cas or of_name & of_cas:
        return False
    return not any(plain_name(name) in names_without_isomer(found) for found in of_cas)


@cache
def names_without_isomer(constituent_id: str) -> frozenset[str]:
    """Plain names of a constituent on record, without a mark of its isomer."""
    table = data.table("constituent_names").query("kind == 'name'")
    names = table.loc[table["constituent"] == constituent_id, "name"]
    return frozenset(plain_name(_ISOMER.sub("", name)) for name in names)


@cache
def _sums_by_name() -> dict[str, dict[str, float]]:
    """Shares by plain name and by CAS number."""
    sums: dict[str, dict[str, float]] = {}
    for row in data.rows("sum_names"):
        for key in filter(None, (plain_name(row["name"]), row["cas"])):
            sums.setdefault(key, {})[row["constituent"]] = row["share"]
    return sums


@lru_cache(maxsize=2048)  # a reader of an analysis asks for one name several times
def _matching_id(name: str, cas: str) -> str | None:
    found = _ids_by_cas().get(cas.strip()) if cas.strip() else None
    bare = name.strip()
    for _ in range(_MOST_MARKS + 1):
        if found is not None or not bare:
            break
        found = _ids_by_name().get(plain_name(bare))
        bare, shortened = _STEREO.subn("", bare)
        if not shortened:
            break
    return found
