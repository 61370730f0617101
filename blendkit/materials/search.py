"""Search for oils by note, family and odour word."""

from collections.abc import Iterable

from blendkit.materials import catalogue
from blendkit.materials.catalogue import Oil
from blendkit.materials.constituents import plain_name

ANY = "any"


def all_oils() -> tuple[Oil, ...]:
    """Every oil on record, own lots among them."""
    return tuple(catalogue.oil(oil_id) for oil_id in catalogue.oil_ids())


def names_of(oil_ids: Iterable[str]) -> str:
    """Names of some oils, with commas between."""
    return ", ".join(catalogue.oil(oil_id).name for oil_id in oil_ids)


def families() -> list[str]:
    """Scent families on record."""
    return sorted({oil.family for oil in all_oils()})


def find(words: str = "", note: str = ANY, family: str = ANY) -> list[Oil]:
    """Find oils that match every word, most volatile first.

    Parameters
    ----------
    words : str, optional
        Parts of names, Latin names or odour words; all of them must be met.
    note, family : str, optional
        "any" leaves the choice open.

    Returns
    -------
    list of Oil
        Those without an analysis last.
    """
    asked = [plain_name(word) for word in words.split()]
    found = []
    for oil in all_oils():
        if note in (ANY, oil.note) and family in (ANY, oil.family):
            texts = (oil.id, oil.name, oil.latin_name, oil.odour_words, oil.family)
            if all(word in plain_name(" ".join(texts)) for word in asked):
                found.append(oil)
    found.sort(key=catalogue.mean_vapour_pressure_pa, reverse=True)
    return sorted(found, key=lambda oil: not oil.composition_known)


def share_by_grade(oil: Oil) -> dict[str, float]:
    """Share of an oil's mass by the grade of its figures; "unidentified" included. [-]"""
    shares: dict[str, float] = {}
    for share in oil.composition:
        shares[share.grade] = shares.get(share.grade, 0.0) + share.typical
    return {**shares, "unidentified": oil.unidentified_fraction}
