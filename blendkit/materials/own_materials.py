"""Own materials as oils, carriers and mixtures, read from the documents that a store holds.

Whatever is not known of an own material stays unknown: without an analysis no limit judges it;
without a density it counts with the middle of those on record, and its grade says so.

Every version of an own material goes by a digest of its document, "my-rose-3@1f0c9a27b4", and a
mixture names the versions of its parts. So a version never changes, two computers give one
version one name, and no mixture can hold itself.
"""

import contextlib
import hashlib
import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from statistics import median
from typing import Any

from blendkit.foundation.errors import BadNumber, Problem, UnknownMaterial, quoted, refuse_any
from blendkit.foundation.field_reader import FieldReader
from blendkit.foundation.schema import GRADES, NOTES
from blendkit.foundation.units import KG_PER_M3_PER_G_PER_ML, is_positive_number
from blendkit.materials import catalogue
from blendkit.materials.amounts import add_up, material
from blendkit.materials.analysed_lots import analysed
from blendkit.materials.catalogue import OWN_MARK, Carrier, MixedMaterial, Oil, Share

KINDS, MIXTURE, BASES = ("oil", "carrier", "additive"), "mixture", ("mass", "volume", "drops")
DEEPEST, LONGEST_TEXT = 8, 500
LIGHTEST, HEAVIEST = 0.5, 2.0  # g/mL
FAMILY = "own materials"
_BY_MAKER = "the maker's own entry"
_MIDDLE = "not on record; the middle of those that are"
_SHORTEST = "not on record; the shortest that is"
_ASK = "Its allergy group is not on record: ask the supplier."
_TEXTS = ("latin_name", "inci", "caution", "odour_words", "density_by")
_NUMBERS = ("density_g_per_ml", "keeps_months")
KEYS = (*_TEXTS, *_NUMBERS, "note", "like", "analysis", "allergen_group")
KEYS_OF_MIXTURE = ("parts", "by", "note", "drop_sizes", "drops_per_ml", "botanicals",
                   "keeps_months")  # fmt: skip
# what a row that somebody else wrote may raise, besides a plain refusal
_NO_MATERIAL = (BadNumber, UnknownMaterial, TypeError, ValueError, AttributeError,
                ArithmeticError, RecursionError)  # fmt: skip
Find = Callable[[str], Oil | Carrier]
Parts = tuple[tuple[Oil | Carrier, float], ...]


def own_id(name: str) -> str:
    """The id of an own material by its name, such as "my-rose-3-in-jojoba".

    Raises
    ------
    BadNumber
        No letter or digit in the name.
    """
    plain = re.sub(r"[^a-z0-9]+", "-", str(name).lower()).strip("-")[:60]
    if not plain:
        raise BadNumber([Problem("name", quoted(name), "a name with letters or digits")])
    return catalogue.OWN + plain


def version_id(name: str, document: Mapping[str, Any]) -> str:
    """The id of one version of an own material."""
    text = json.dumps([name, document], sort_keys=True, separators=(",", ":"))
    return f"{own_id(name)}{OWN_MARK}{hashlib.sha256(text.encode()).hexdigest()[:10]}"


def read_material(
    material_id: str, name: str, document: Mapping[str, Any], find: Find = material
) -> Oil | Carrier:
    """An own material from its document.

    Parameters
    ----------
    material_id, name : str
    document : mapping
        ``kind``, one of `KINDS` with some of `KEYS`, or `MIXTURE` with some of
        `KEYS_OF_MIXTURE`.
    find : callable, optional
        Looks up a part by its id.

    Raises
    ------
    BadNumber
        Lists every problem of the document; or a mixture in a circle, or deeper than `DEEPEST`.
    UnknownMaterial
        No such part, constituent or material to be like.
    """
    reader = _Reader(document)
    reader.name("name", name, 200)
    is_mixture = document.get("kind") == MIXTURE
    keys = KEYS_OF_MIXTURE if is_mixture else KEYS
    reader.check_keys("", document, {"kind": True, **dict.fromkeys(keys, False)})
    made = (reader.mixture if is_mixture else reader.material)(material_id, name, find)
    _refuse_circles(made)
    return made


class _Reader(FieldReader):
    """Reads the document of one own material."""

    def text(self, key: str) -> str:
        return self.name(key, self.document.get(key, ""), LONGEST_TEXT).strip()

    def number(self, key: str, low: float, high: float) -> float | None:
        value = self.document.get(key)
        if value is None:
            return None
        if not is_positive_number(value) or not low <= value <= high:
            self.add(key, quoted(value), f"a number from {low:g} to {high:g}")
            return None
        return float(value)

    def note(self, choices: tuple[str, ...], otherwise: str) -> str:
        given = self.document.get("note")
        return otherwise if given is None else self.choice("note", given, choices)

    def material(self, own: str, name: str, find: Find) -> Oil | Carrier:
        kind = self.choice("kind", self.document.get("kind"), (*KINDS, MIXTURE))
        texts = {key: self.text(key) for key in _TEXTS}
        like = self.document.get("like")
        model = find(str(like)) if like else None
        typed = self.number("density_g_per_ml", LIGHTEST, HEAVIEST)
        density, source, grade = _density(kind, typed, texts.pop("density_by"), model)
        known: dict[str, Any] = {"density_kg_per_m3": density, "inci": texts["inci"]}
        months = self.number("keeps_months", 0.1, 600)
        note, group = self.note(NOTES, "middle"), self.document.get("allergen_group", "")
        if group:
            self.choice("allergen_group", group, tuple(catalogue.ALLERGY_GROUPS))
        refuse_any(self.problems)
        if kind != "oil":
            return Carrier(
                id=own, name=name, inci_grade="read", **known, **_as_carrier(model, months),
                allergen_group=str(group),
                caution=" ".join(filter(None, (texts["caution"], "" if group else _ASK))),
            )  # fmt: skip

        oil = Oil(
            id=own, name=name, inci_grade="read", **known, latin_name=texts["latin_name"],
            process="not on record", family=FAMILY, odour_words=texts["odour_words"],
            note=note, composition_known=False, composition=(), source=source,
            grade=grade, based_on=own, caution=texts["caution"],
        )  # fmt: skip
        given = self.document.get("analysis")
        return analysed(oil, given, _BY_MAKER) if isinstance(given, Mapping) else oil

    def mixture(self, own: str, name: str, find: Find) -> MixedMaterial:
        by = self.choice("by", self.document.get("by", "mass"), BASES)
        given, sizes = self.document.get("parts"), self.document.get("drop_sizes", {})
        if not isinstance(given, Mapping) or not given or not self.is_short("parts", given, 60):
            self.add("parts", quoted(given), 'amounts by material, such as {"jojoba": 97}')
            given = {}
        sizes = sizes if isinstance(sizes, Mapping) else {}
        parts = {key: find(key) for key in map(str, given)}
        kg: dict[str, float] = {}
        for key, value in given.items():
            amount = self.positive(f"parts, {key}", value)
            size = self.positive(
                f"drop size of {key}", sizes.get(key, catalogue.TRADE_DROPS_PER_ML)
            )
            density = parts[str(key)].density_kg_per_m3
            kg[str(key)] = amount * {"mass": 1.0, "volume": density}.get(by, density / size)
        whole = sum(kg.values()) or 1.0
        made_of = tuple((parts[key], mass / whole) for key, mass in kg.items())
        if not 0 < whole < 1e300:
            self.add("parts", f"{whole:g} in all", "amounts that can be added up")
        matters = {
            "note": self.note((*NOTES, "carrier"), _note_of(made_of)),
            "botanicals": self.text("botanicals"),
            "drops_per_ml": self.number("drops_per_ml", 1, 200),
            "keeps_months": self.number("keeps_months", 0.1, 600),
        }
        refuse_any(self.problems)
        return _mix(own, name, made_of, **matters)


def _density(
    kind: str, typed: float | None, how: str, model: Oil | Carrier | None
) -> tuple[float, str, str]:
    """Density [kg/m3], its source and grade."""
    if typed is not None:
        return typed * KG_PER_M3_PER_G_PER_ML, how or _BY_MAKER, "read"
    if model is not None:
        return model.density_kg_per_m3, f"taken to be like {model.name}", "estimated"
    shipped = catalogue.shipped_materials().values()
    same = [each for each in shipped if isinstance(each, Oil) == (kind == "oil")]
    return median(each.density_kg_per_m3 for each in same), _MIDDLE, "estimated"


def _as_carrier(model: Oil | Carrier | None, months: float | None) -> dict[str, Any]:
    """What a film and a best-before date need of an own carrier."""
    known = [
        each for each in catalogue.shipped_materials().values() if isinstance(each, Carrier)
    ]
    like = model if isinstance(model, Carrier) else None
    molar_mass = median(each.molar_mass_kg_per_mol for each in known)
    return {
        "molar_mass_kg_per_mol": like.molar_mass_kg_per_mol if like else molar_mass,
        "like": (like.like or like.id) if like else "",
        "shelf_life_months": months or min(each.shelf_life_months for each in known),
        "source": _BY_MAKER if months else _SHORTEST,
        "grade": "read" if months else "estimated",
    }


def _note_of(made_of: Parts) -> str:
    """The usual note of the oil that makes most of a mixture; "carrier" without any."""
    shares = add_up(
        (part.note, share * inner)
        for whole, share in made_of
        for part, inner in catalogue.parts_of(whole)
        if isinstance(part, Oil)
    )
    return max(shares, key=lambda note: shares[note], default="carrier")


def _mix(own: str, name: str, made_of: Parts, **matters: Any) -> MixedMaterial:
    parts = [(p, share * s) for whole, share in made_of for p, s in catalogue.parts_of(whole)]
    oils = [(part, share) for part, share in parts if isinstance(part, Oil)]
    poured = [(part, share) for part, share in parts if not isinstance(part, Oil)]
    moles = sum(share / part.molar_mass_kg_per_mol for part, share in poured)
    months = [matters["keeps_months"], *(part.shelf_life_months for part, _ in poured)]
    return MixedMaterial(
        id=own, name=name, latin_name="", inci="", inci_grade="estimated", process=MIXTURE,
        family=FAMILY, odour_words="",
        density_kg_per_m3=1 / sum(s / whole.density_kg_per_m3 for whole, s in made_of),
        composition_known=all(part.composition_known for part, _ in oils),
        composition=catalogue.largest_first(_composition(oils)),
        source="calculated from its parts", grade="estimated", based_on=own,
        molar_mass_kg_per_mol=sum(s for _, s in poured) / moles if moles else 0.0,
        allergen_group="",
        shelf_life_months=min((each for each in months if each), default=0.0),
        made_of=made_of, **matters,
    )  # fmt: skip


def _composition(oils: Iterable[tuple[Oil, float]]) -> Iterator[Share]:
    """Constituents of a mixture's oils, as shares of the whole mixture."""
    found: dict[str, list[tuple[Share, float]]] = {}
    for oil, part in oils:
        for share in oil.composition:
            found.setdefault(share.constituent, []).append((share, part))
    for name, shares in found.items():
        low, typical, high = (
            sum(getattr(share, end) * part for share, part in shares)
            for end in ("low", "typical", "high")
        )
        grade = max((share.grade for share, _ in shares), key=GRADES.index)
        old = any(share.is_old_bound for share, _ in shares)
        yield Share(name, low, typical, high, "calculated from its parts", grade, old)


def _refuse_circles(made: Oil | Carrier) -> None:
    own, level = made.id.partition(OWN_MARK)[0], {made.id: made}
    for _ in range(DEEPEST):
        level = {
            part.id: part for each in level.values() if isinstance(each, MixedMaterial)
            for part, _ in each.made_of
        }  # fmt: skip
        for part in level.values():
            if part.id.partition(OWN_MARK)[0] == own:
                needed = "parts that do not hold this material"
                raise BadNumber([Problem(made.name, f"{part.name} in itself", needed)])
    if any(isinstance(part, MixedMaterial) for part in level.values()):
        needed = f"mixtures in mixtures at most {DEEPEST} deep"
        raise BadNumber([Problem(made.name, "more", needed, "Mix its parts directly.")])


def read_all(
    lots: Iterable[Oil], rows: Iterable[tuple[str, Mapping[str, Any]]]
) -> catalogue.Own:
    """All own materials: own lots, then names with documents, oldest first.

    What cannot be used is left out; it takes nothing else with it.
    """
    known: dict[str, Oil | Carrier] = {oil.id: oil for oil in lots}
    ids, documents = tuple(known), dict[str, tuple[str, Mapping[str, Any]]]()
    for name, document in rows:
        with contextlib.suppress(*_NO_MATERIAL):
            key = version_id(name, document)
            documents.pop(key, None)  # what is kept again is the newest
            documents[key] = name, document

    def find(key: str) -> Oil | Carrier:
        # never the catalogue, which asks for own materials and so comes here
        return (
            known[key] if OWN_MARK in key and key in known else catalogue.shipped_material(key)
        )

    for _ in range(DEEPEST + 1):  # a round for each level of mixtures in mixtures
        for key in [key for key in documents if key not in known]:
            with contextlib.suppress(*_NO_MATERIAL):
                known[key] = read_material(key, *documents[key], find)
    newest = {key.partition(OWN_MARK)[0]: key for key in documents if key in known}
    for own, key in newest.items():
        item = known[key]
        known[own] = replace(item, id=own)
        if isinstance(item, Oil):
            known[own] = replace(item, id=own, based_on=own)
    return catalogue.Own(known, (*ids, *newest), newest)
