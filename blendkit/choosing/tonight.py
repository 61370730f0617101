"""What the shelf answers: what can be made tonight, and what one more oil would add."""

from collections.abc import Collection, Iterable, Mapping
from datetime import date
from typing import NamedTuple

import numpy as np

from blendkit.blend.blend import Blend
from blendkit.choosing.same_smell import NEAR, relatives
from blendkit.choosing.scents import scents_of
from blendkit.evaporation.design import with_more_oils
from blendkit.evaporation.smell import PERCEIVED
from blendkit.foundation.units import FloatArray, show_ml
from blendkit.materials import catalogue
from blendkit.materials.amounts import add_up, material, shelf_id
from blendkit.skin import check
from blendkit.skin.counted_bottle import LEEWAYS, CountedBottle

LENGTHEN, BRING = "lengthen", "bring"
_NOTHING_M3 = 1e-15
_HOURS = (0.0, *np.geomspace(0.1, 7 * 24.0, 40).tolist())


class Kept(NamedTuple):
    """A kept blend, and the day it was kept."""

    blend: Blend
    day: date


class Tonight(NamedTuple):
    """One kept blend against the shelf.

    Attributes
    ----------
    kept : Kept
    short : dict of str to float
        Volume missing of each material, by shelf id. [m3]
    relative : str
        Where one oil alone is short: id of its nearest relative on the shelf; else empty.
    words : str
    """

    kept: Kept
    short: dict[str, float]
    relative: str
    words: str


def tonight(
    kept: Iterable[Kept],
    shelf: Mapping[str, float],
    excluded: Collection[str] = (),
) -> list[Tonight]:
    """Kept blends by what is missing for one bottle: nothing first, and oldest first.

    Parameters
    ----------
    kept : iterable of Kept
    shelf : mapping of str to float
        Volume left of each material, by shelf id. [m3]
    excluded : collection of str, optional
        Oils not to use as a relative.

    Notes
    -----
    `same_smell.replace_oil` makes the nearest blend for one oil that is short.
    """
    there = {name for name, left in shelf.items() if left > 0}.intersection(catalogue.oil_ids())
    usable = there.difference(excluded, check.not_for_skin())
    rows = [_against(each, shelf, sorted(usable)) for each in kept]
    return sorted(rows, key=lambda row: (len(row.short), row.kept.day))


def _against(kept: Kept, shelf: Mapping[str, float], usable: list[str]) -> Tonight:
    portions = kept.blend.bottle.portions
    needed = add_up((shelf_id(one.material), one.volume_m3) for one in portions)
    gaps = {name: need - max(shelf.get(name, 0.0), 0.0) for name, need in needed.items()}
    short = {name: gap for name, gap in gaps.items() if gap > _NOTHING_M3}
    if not short:
        return Tonight(kept, short, "", "Everything for one bottle is there.")
    missing = ", ".join(
        f"{show_ml(v, 2)} of {material(name).name}" for name, v in short.items()
    )
    words, relative = f"Short of {missing}.", ""
    oils = [name for name in kept.blend.oil_drops if shelf_id(name) in short]
    if len(short) == len(oils) == 1:
        kin = relatives(oils[0], [n for n in usable if n not in short], kept.blend)
        relative = next((name for name, overlap in kin.items() if overlap >= NEAR), "")
        nearest = catalogue.oil(relative).name if relative else "none near enough"
        words += f" Nearest relative on your shelf: {nearest}."
    return Tonight(kept, short, relative, words)


class OneMore(NamedTuple):
    """Addition of one oil to a blend.

    Attributes
    ----------
    oil : str
    longer_h : float
        Time by which the smell lasts longer; infinite beyond a week. [h]
    heard : float
        Its strength next to the strongest, at its best hour. [-]
    new : float
        Part of its own smell, at first, from molecules that the blend does not have. [-]
    is_allowed : bool
        Whether the drops keep every limit that has a figure.
    """

    oil: str
    longer_h: float
    heard: float
    new: float
    is_allowed: bool


class MoreOils:
    """Oils that might join a blend; made once, and asked again as its drops are dragged.

    Parameters
    ----------
    blend : Blend
    among : collection of str
        Oils of the shelf or the catalogue.
    """

    def __init__(
        self,
        blend: Blend,
        among: Collection[str],
    ) -> None:
        start = with_more_oils(blend, list(among))
        self.bottle = CountedBottle(start, check.rules_in(start), {})
        self.joins = np.array([name not in blend.oil_drops for name in self.bottle.ids])
        self.scents = scents_of(self.bottle, _HOURS)
        self.first = self.scents._replace(dose=self.scents.dose[:, :1])
        self.rows, self.right = self.bottle.inequalities(LEEWAYS[0])

    def ranked(
        self, drops: Mapping[str, int] | None = None, more: int = 2, by: str = LENGTHEN
    ) -> list[OneMore]:
        """Oils in order of what they would lengthen or bring; those within the limits first.

        Parameters
        ----------
        drops : mapping of str to int, optional
            Of the blend's oils, where they have changed since.
        more : int, optional
            Drops of the oil that joins.
        by : str, optional
            "lengthen" or "bring".
        """
        scents, joins = self.scents, self.joins
        counts = {**dict(zip(self.bottle.ids, scents.drops, strict=True)), **(drops or {})}
        now = np.array([counts[name] for name in self.bottle.ids])
        strengths = scents.of_oils(np.where(joins, more, now))
        blend, others = strengths[~joins].max(axis=0), strengths[joins]
        with np.errstate(invalid="ignore"):
            longer = np.nan_to_num(_lasting(others) - _lasting(blend), nan=0.0, posinf=np.inf)
        heard = (others / np.maximum(np.maximum(others, blend), 1e-300)).max(axis=1)
        held = now @ scents.per_drop > 0
        smells = [self.first.strengths(more * row)[:, 0] for row in scents.per_drop[joins]]
        new = np.array([each[~held].sum() / max(each.sum(), 1e-300) for each in smells])
        spare = self.right - self.rows @ now
        fits = np.all(self.rows[:, joins] * more <= spare[:, None], axis=0)
        value = longer if by == LENGTHEN else heard * new
        names = [name for name, is_new in zip(self.bottle.ids, joins, strict=True) if is_new]
        columns = (each.tolist() for each in (np.maximum(longer, 0.0), heard, new, fits))
        rows = list(map(OneMore, names, *columns))
        return [rows[place] for place in np.lexsort((-value, ~fits))]


def _lasting(strength: FloatArray) -> FloatArray:
    """Last of the hours at which smells are perceived; infinite for the last of all. [h]"""
    hours = np.array([*_HOURS[:-1], np.inf])
    return np.asarray(np.where(strength >= PERCEIVED, hours, 0.0).max(axis=-1))
