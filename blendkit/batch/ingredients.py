"""Ingredients of a label: names, weights and order.

Names are INCI names, in descending order of weight. Below one per cent the law allows any
order; here it descends as well. A natural extract that the law wants named under
a name of its own goes by that name, once, in place of its INCI name (own choice; an authority
may see it otherwise). A constituent counts at the high end of its range: a name too many, or
one too far up, harms nobody.
"""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import NamedTuple

from blendkit.blend.blend import Blend
from blendkit.foundation.errors import check_known
from blendkit.materials.catalogue import Carrier, Oil
from blendkit.skin.allergens import Named, named_in, on_label
from blendkit.skin.limits import weakest

SCENTS = ("each oil by its name", "one word for the scent")
_IN_LIST = ("EU", "UK", "Canada")  # regions that list allergens among the ingredients
_ONE_WORD = {"US": "Fragrance"}
_PARFUM = "Parfum"


class Ingredient(NamedTuple):
    """One name of the list.

    Attributes
    ----------
    name : str
        Spelled as on the label.
    fraction : float
        By mass of the product. [-]
    kind : str
        "carrier", "oil", "scent" or "allergen".
    grade : str
        Grade of the name's source; for an allergen, its weakest figure.
    """

    name: str
    fraction: float
    kind: str
    grade: str


class Ingredients(NamedTuple):
    """Names that a label lists.

    Attributes
    ----------
    listed : tuple of Ingredient
        In the order of the label.
    separate : tuple of Ingredient
        Allergens for a separate line, in regions that do not list them as ingredients.
    nameless : tuple of str
        Materials without an INCI name on record; listed under their plain name.
    allergens : tuple of str
        Every name of the list of allergens that is on the label, largest first.
    without_analysis : tuple of str
        Oils without an analysis, so that their allergens are not known.
    """

    listed: tuple[Ingredient, ...]
    separate: tuple[Ingredient, ...]
    nameless: tuple[str, ...]
    allergens: tuple[str, ...]
    without_analysis: tuple[str, ...]


def ingredients(
    blend: Blend,
    mass_fractions: Mapping[str, float],
    region: str,
    scent: str = SCENTS[0],
    placed_on: date | None = None,
) -> Ingredients:
    """List the ingredients of a product.

    Parameters
    ----------
    blend : Blend
    mass_fractions : mapping of str to float
        Of the finished product, by id of oil or carrier, mixtures unfolded. [-]
    region : str
        As in `Market`.
    scent : str, optional
        One of `SCENTS`. Either way the allergens are named.
    placed_on : date, optional
        Day on which the lot is placed on the market; today where left out.

    Raises
    ------
    BadNumber
        No such way to name the scent.

    Notes
    -----
    Regulation (EC) No 1223/2009, Article 19(1)(g): "descending order of weight of the
    ingredients at the time they are added"; below 1 % "in any order after those in
    concentrations of more than 1 %" (both seen quoted in public texts). "Parfum" may stand for
    aromatic compositions and their raw materials (UK government written answer of 2020).
    """
    check_known("scent", scent, SCENTS)
    oils, carriers = blend.base_oils, blend.base_carriers
    day = placed_on or date.today()
    named = [n for n in named_in(oils, mass_fractions) if on_label(n, region, day)]
    every = tuple(n.label_name for n in named)
    in_list = region in _IN_LIST
    entries = [*_by_name(carriers, mass_fractions, "carrier", [])]
    if scent == SCENTS[0]:
        extracts = [n for n in named if n.is_extract and in_list]
        entries += _by_name(oils, mass_fractions, "oil", extracts)
        # an extract is listed already, by the name of its oil or the one the law gives it
        named = [n for n in named if not n.is_extract]
    else:
        whole = sum(mass_fractions.get(oil.id, 0.0) for oil in oils)
        entries.append(Ingredient(_ONE_WORD.get(region, _PARFUM), whole, "scent", "part-read"))
    allergens = [Ingredient(n.label_name, n.amount, "allergen", n.figure_basis) for n in named]
    listed = _merge([*entries, *allergens] if in_list else entries)
    if region == "Canada":  # "Parfum" last: Cosmetic Regulations, section 21.4(3)
        listed = tuple(sorted(listed, key=lambda entry: entry.kind == "scent"))
    return Ingredients(
        listed=listed,
        separate=() if in_list else _merge(allergens),
        allergens=every,
        nameless=tuple(material.name for material in blend.base if not material.inci),
        without_analysis=tuple(oil.name for oil in oils if not oil.composition_known),
    )


def spell_inci(inci: str) -> str:
    """Spell an INCI name as labels print it, which takes less room than capitals.

    Examples
    --------
    >>> spell_inci("CAPRYLIC/CAPRIC TRIGLYCERIDE")
    'Caprylic/Capric Triglyceride'
    """
    return inci.title() if inci.isupper() else inci


def _by_name(
    items: Iterable[Oil | Carrier],
    mass_fractions: Mapping[str, float],
    kind: str,
    extracts: Iterable[Named],
) -> Iterator[Ingredient]:
    """List each material by the name the law gives its kind, or else by its INCI name."""
    by_law = {id: extract for extract in extracts for id, _ in extract.from_oils}
    for item in items:
        name, grade = spell_inci(item.inci) or item.name, item.inci_grade
        if extract := by_law.get(item.id):
            name, grade = extract.label_name, str(extract.entry["grade"])
        yield Ingredient(name, mass_fractions.get(item.id, 0.0), kind, grade)


def _merge(entries: Iterable[Ingredient]) -> tuple[Ingredient, ...]:
    """Merge equal names, largest first; drop those with nothing in the product."""
    found: dict[str, list[Ingredient]] = {}
    for entry in entries:
        if entry.fraction > 0:
            found.setdefault(entry.name.lower(), []).append(entry)
    merged = []
    for same in found.values():
        first = same[0]
        # several materials under one name count together; an oil named as an allergen as
        # well is the same mass once more and does not
        whole = sum(entry.fraction for entry in same if entry.kind == first.kind)
        fraction = max(whole, *(entry.fraction for entry in same))
        grade = weakest(entry.grade for entry in same)
        merged.append(Ingredient(first.name, fraction, first.kind, grade))
    return tuple(sorted(merged, key=lambda entry: (-entry.fraction, entry.name)))
