"""A blend: the document a maker keeps, as a value that is checked, exact and read-only.

`as_blend` is the one door: it takes a blend, a document, or the path of a kept one.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cached_property
from html import escape
from numbers import Integral, Real
from pathlib import Path
from types import MappingProxyType
from typing import Any

from blendkit.blend.counts import share_out, total_drops, volume_to_make
from blendkit.blend.document import read_fields
from blendkit.blend.fields import Fields
from blendkit.blend.filling import Filling
from blendkit.blend.market import Market
from blendkit.foundation.errors import (
    MOST_SHOWN,
    BadBlend,
    BadNumber,
    BlendkitError,
    Problem,
    attempt,
    near_miss,
    quoted,
    refuse_any,
    text_of,
)
from blendkit.foundation.keep import load
from blendkit.foundation.units import G_PER_KG, ML_PER_M3, as_text, show

_OILS_IN_A_LINE = 8


class Blend(Fields):
    """A checked blend with its whole drops; nothing in it can be changed.

    Blends are equal, and hash alike, where their documents are equal.

    Parameters
    ----------
    document : mapping
        Keys ``bottle``, ``strength``, ``note_parts``, ``oils``, ``carriers``; and optionally
        ``name``, ``headspace``, ``botanicals``, ``strength_basis``, ``drops_per_ml``,
        ``market``. With ``"by": "mass"`` all parts are by mass, an oil may have a ``mass`` in
        place of ``drops``, whole steps of the scale (``step``) are counted, and ``make`` may
        give the mass to make. Volumes and strength carry their unit, as text ("10 mL") or as
        pint quantities, which become text.

    Attributes
    ----------
    total_drops : int
        Drops of oil that strength and bottle ask for; steps of the scale in a blend by mass.
    oil_drops : read-only mapping of str to int
        Whole drops, or steps, of each oil, by id. Sums to `total_drops` unless every count is
        fixed.

    Raises
    ------
    BadBlend
        Lists every problem found.

    See Also
    --------
    blendkit.blend.fields.Fields : the other attributes.
    """

    total_drops: int
    oil_drops: Mapping[str, int]
    _fields: Fields
    _document: str  # JSON: nothing in it can be changed

    def __init__(self, document: Mapping[str, Any]) -> None:
        fields, problems = read_fields(document)
        if fields is None:
            raise BadBlend(problems)
        try:
            total = total_drops(fields)
            drops = share_out(fields, total)
            fields = replace(fields, made_m3=volume_to_make(fields, drops))
        except BadNumber as error:
            raise BadBlend(error.problems) from error
        self.__dict__.update(
            vars(fields),
            total_drops=total,
            oil_drops=MappingProxyType(drops),
            _fields=fields,
            _document=json.dumps(document, default=_plain),
        )
        refuse_any(_room_problems(self), BadBlend)

    @classmethod
    def from_dict(cls, document: Mapping[str, Any]) -> Blend:
        """Read a blend document; the same as ``Blend(document)``."""
        return cls(document)

    def to_dict(self) -> dict[str, Any]:
        """The document this blend was read from, with exactly its keys; a copy to change."""
        document: dict[str, Any] = json.loads(self._document)
        return document

    def with_(self, *, drops: Mapping[str, int] | None = None, **changes: Any) -> Blend:
        """Another blend, with some keys of the document changed.

        Parameters
        ----------
        drops : mapping of str to int, optional
            Counts fixed by hand, by the ids of oils that are in the blend; others stay.
        **changes
            Any key of the document: ``strength="25 %"``, ``bottle="30 mL"``, ``market=...``.

        Raises
        ------
        BadBlend
            Lists every unknown key and id, with the nearest that is known, and whatever does
            not fit the bottle.

        Examples
        --------
        >>> from blendkit.foundation.data import example_document
        >>> blend = Blend(example_document())
        >>> blend.with_(strength="10 %", name="Lighter").total_drops * 2 == blend.total_drops
        True
        """
        document, problems = {**self.to_dict(), **changes}, list[Problem]()
        if drops is not None:
            document["oils"] = _with_counts(document["oils"], drops, problems)
        made = attempt(problems, Blend, document)
        if problems or made is None:
            raise BadBlend(problems)
        return made

    @cached_property
    def bottle(self) -> Filling:
        """The filled bottle: drops, volumes and masses of every material."""
        return Filling.of(self._fields, self.oil_drops, self.total_drops)

    @cached_property
    def _canonical(self) -> str:
        return json.dumps(self.to_dict(), sort_keys=True)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Blend):
            return NotImplemented
        return self._canonical == other._canonical

    def __hash__(self) -> int:
        return hash(self._canonical)

    def __setattr__(self, name: str, _: object) -> None:
        raise AttributeError(
            f"{name}: a blend cannot be changed; blend.with_(...) gives another."
        )

    def __delattr__(self, name: str) -> None:
        self.__setattr__(name, None)

    def __reduce__(self) -> tuple[type[Blend], tuple[dict[str, Any]]]:
        return type(self), (self.to_dict(),)

    def __repr__(self) -> str:
        shown = [f"{count} {name}" for name, count in self.oil_drops.items()]
        more = len(shown) - _OILS_IN_A_LINE
        drops = ", ".join(shown[:_OILS_IN_A_LINE]) + (f" and {more} more" if more > 0 else "")
        bottle = f"{show(self.bottle_m3 * ML_PER_M3)} mL"
        strength = f"{show(self.strength_fraction * 100)} % by {self.strength_basis}"
        counts = f"steps of {show(self.step_kg * G_PER_KG)} g" if self.step_kg else "drops"
        return f"Blend({quoted(self.name)}, {bottle}, {strength}, {counts}: {drops})"

    def _repr_html_(self) -> str:
        rows = self.bottle.table()
        rows["drops"] = rows["drops"].astype(object).where(rows["drops"].notna(), "")
        table = rows.to_html(index=False, float_format=show)
        return f"<p>{escape(repr(self))}</p>\n{table}"


BlendLike = Blend | Mapping[str, Any] | str | os.PathLike[str]


def as_blend(given: BlendLike) -> Blend:
    """The blend of whatever a person has at hand.

    Parameters
    ----------
    given : Blend, mapping, or path
        A blend; its document; or the path of a kept blend, a JSON file.

    Raises
    ------
    BadBlend
        Anything else; a path where no blend can be read; or lists every problem of the
        document.
    """
    if isinstance(given, Blend):
        return given
    if isinstance(given, str | os.PathLike):
        given = _read(given)
    return Blend(given)


def _read(path: str | os.PathLike[str]) -> Mapping[str, Any]:
    needed = "the path of a kept blend, a JSON file"
    try:
        file = Path(path).expanduser()
        if not file.is_file():
            raise FileNotFoundError("no such file")
        return load(file)
    except (OSError, ValueError, RuntimeError, BlendkitError) as error:
        got = f"{quoted(os.fspath(path))} ({error})"
        raise BadBlend([Problem("blend", got, needed)]) from error


def _with_counts(oils: Any, drops: Mapping[str, int], problems: list[Problem]) -> Any:
    """The entries of the oils with some counts fixed; what is wrong goes into `problems`."""
    if not isinstance(oils, list | tuple) or not all(isinstance(e, Mapping) for e in oils):
        return oils  # which is refused
    known = [text_of(entry.get("id")) for entry in oils]
    if not isinstance(drops, Mapping):
        needed = 'counts by oil, such as {"patchouli": 5}'
        problems.append(Problem("drops", quoted(drops), needed))
        return oils
    problems += [
        Problem("drops", quoted(name), "an oil of this blend", near_miss(name, known))
        for name in [name for name in drops if name not in known][:MOST_SHOWN]
    ]
    pairs = zip(oils, known, strict=True)
    return [{**e, "drops": drops[name]} if name in drops else e for e, name in pairs]


def _plain(value: Any) -> Any:
    """A value of a checked document that JSON does not know, as one that it does."""
    if isinstance(value, Market):
        return value.to_dict()
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, Integral):
        return int(value)
    return float(value) if isinstance(value, Real) else as_text(value)


def _room_problems(blend: Blend) -> Iterator[Problem]:
    drops = blend.oil_drops.items()
    oils_ml = sum(count / blend.drops_per_ml_of(name) for name, count in drops)
    room_ml, made_ml = blend.room_m3 * ML_PER_M3, blend.liquid_m3 * ML_PER_M3
    tolerance = 1e-9
    if made_ml > room_ml * (1 + tolerance):
        got, fix = f"{show(made_ml)} mL to make", "Take a larger bottle, or make less."
        yield Problem("make", got, f"at most {show(room_ml)} mL, the room in the bottle", fix)
    if oils_ml == 0:
        yield Problem("oils", "0 drops in all", "at least one drop of oil")
    if oils_ml > room_ml * (1 + tolerance):
        fix = "Lower the strength or the fixed counts, or take a larger bottle."
        yield Problem(
            "bottle", f"{show(oils_ml)} mL of oils", f"at most {show(room_ml)} mL", fix
        )
    elif not blend.carriers and oils_ml < made_ml * (1 - tolerance):
        got = f"{show(oils_ml)} mL of oils in {show(room_ml)} mL and no carrier"
        yield Problem("carriers", got, "a carrier to fill up with")
