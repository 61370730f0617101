"""A map of a blend between three corners: notes, or any three groups of its oils.

A ternary diagram, as the 2005 diagrams of perfumery that plot the strongest of three
components (abstract read); the film and the loudness are ours. Each whole-drop recipe is a
dot, a dot over a skin limit is barred, and a coarser grid shows which corner leads.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from blendkit.blend.apportionment import whole_drops
from blendkit.blend.blend import Blend
from blendkit.choosing.loudness import NOSE, Counts
from blendkit.evaporation.fade_words import front_chances
from blendkit.evaporation.forecast import forecast
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import FloatArray
from blendkit.skin import check
from blendkit.skin.counted_bottle import LEEWAYS, CountedBottle, name_of

HOURS = (0.0, 1.0, 4.0)
REST = "the other oils"
_CORNERS = 3
_STEPS = 10  # of the grid along a side
_MOST_DROPS = 240
_GRID_DRAWS = 32


class BlendMap(NamedTuple):
    """All whole-drop recipes between three corners.

    Attributes
    ----------
    corners : tuple of str
        Names of the three; then `REST` where other oils keep their drops.
    groups : tuple of tuple of str
        Oil ids of each.
    dots : ndarray of int, shape (d, 3)
        Drops of the corners.
    drops : ndarray of int, shape (d, o)
        Of each oil of `bottle`.
    barred_by : tuple of str, length d
        A skin limit that the dot breaks; empty where it breaks none that has a figure.
    grid : ndarray of int, length g
        Places of the dots where it is known who leads.
    leads : ndarray, shape (g, hours, corners)
        Chance of each corner to lead. [-]
    bottle : CountedBottle
    """

    corners: tuple[str, ...]
    groups: tuple[tuple[str, ...], ...]
    dots: Counts
    drops: Counts
    barred_by: tuple[str, ...]
    grid: Counts
    leads: FloatArray
    bottle: CountedBottle

    def nearest(self, shares: Sequence[float | str]) -> int:
        """The dot nearest to some shares of the corners, typed or not."""
        try:
            wanted = np.asarray(shares, dtype=np.float64)
        except ValueError:
            wanted = np.empty(0)
        if wanted.shape != (_CORNERS,) or not 0 < wanted.sum() < np.inf or (wanted < 0).any():
            needed = "three numbers, one above 0"
            raise BadNumber([Problem("shares", quoted(list(shares)), needed)])
        target = wanted / wanted.sum() * self.dots[0].sum()
        return int(((self.dots - target) ** 2).sum(axis=1).argmin())

    def place(self, blend: Blend) -> FloatArray | None:
        """Shares of the corners in another blend; None where it has oils from outside."""
        counts = {name: count for name, count in blend.oil_drops.items() if count}
        held = [sum(counts.get(name, 0) for name in own) for own in self.groups]
        if not sum(held[:_CORNERS]) or sum(held) < sum(counts.values()):
            return None
        return np.array(held[:_CORNERS]) / sum(held[:_CORNERS])

    def dot_of(self, drops: Mapping[str, int]) -> int | None:
        """The dot of some drops by oil; None where they are none of its recipes."""
        counts = [drops.get(name, 0) for name in self.bottle.ids]
        found = np.flatnonzero((self.drops == counts).all(axis=1))
        is_whole = sum(counts) == sum(drops.values())
        return int(found[0]) if is_whole and len(found) else None

    def leads_at(self, dot: int, draws: int) -> FloatArray:
        """Chance of each corner to lead at a dot, shape (hours, corners). [-]"""
        film = NOSE.film_of(self.bottle, self.drops[dot])
        found = forecast(film, HOURS, draws)
        of_oils = found.log_draws[found.rows("oil")]
        logs = np.full((len(self.groups), *of_oils.shape[1:]), -np.inf, dtype=of_oils.dtype)
        for row, own in zip(logs, self.groups, strict=True):
            for place, name in enumerate(film.oils):
                if name in own:
                    np.maximum(row, of_oils[place], out=row)
        return front_chances(logs).T


def map_of(blend: Blend, corners: Mapping[str, Sequence[str]] | None = None) -> BlendMap:
    """The map of a blend; its other oils keep their drops.

    Parameters
    ----------
    blend : Blend
    corners : mapping of str to sequence of str, optional
        Three names, each with oils of the blend; they keep their ratio among themselves, that
        of their parts where none of them has a drop. Its three notes, where left out.

    Raises
    ------
    BadNumber
        The corners are not three, share an oil, or have one that is not in the blend; or they
        have no drop, or more than 240.
    """
    counts, groups = _groups(blend, corners)
    bottle = CountedBottle(blend, check.rules_in(blend), {})
    parts = {part.oil.id: part.parts for part in blend.oils}
    three: list[Mapping[str, float]] = [
        {name: counts[name] for name in own if name in counts} or {n: parts[n] for n in own}
        for own in list(groups.values())[:_CORNERS]
    ]
    total = sum(counts.get(name, 0) for own in three for name in own)
    if not 0 < total <= _MOST_DROPS:
        got, needed = f"{total} counts at the corners", f"1 to {_MOST_DROPS}"
        fix = "Take a smaller bottle or a coarser scale: the shares are the same."
        raise BadNumber([Problem("map", got, needed, fix)])
    dots = _triples(total)
    drops = np.tile(bottle.drops, (len(dots), 1))
    for of_corner, ratio in zip(dots.T, three, strict=True):
        split = [whole_drops(ratio, count) for count in range(total + 1)]
        for name in ratio:
            drops[:, bottle.ids.index(name)] = np.array([n[name] for n in split])[of_corner]
    rows, right = bottle.inequalities(LEEWAYS[0])
    limits = [name_of(rule) for rule in bottle.rules if rule.ceiling is not None]
    limits += ["room in the bottle"] * len(bottle.walls)
    over = np.asarray(drops @ rows.T > right)
    barred = tuple(limits[int(each.argmax())] if each.any() else "" for each in over)
    steps = min(_STEPS, total)
    away = ((dots[:, None] - _triples(steps) * (total / steps)) ** 2).sum(axis=2)
    grid = np.unique(away.argmin(axis=0))
    names, own = tuple(groups), tuple(groups.values())
    made = BlendMap(names, own, dots, drops, barred, grid, np.empty(0), bottle)
    return made._replace(leads=np.array([made.leads_at(int(n), _GRID_DRAWS) for n in grid]))


def _triples(total: int) -> Counts:
    """All ways to divide a number of drops among three."""
    pairs = ((a, b) for a in range(total + 1) for b in range(total - a + 1))
    return np.array([(a, b, total - a - b) for a, b in pairs])


def _groups(
    blend: Blend, corners: Mapping[str, Sequence[str]] | None
) -> tuple[dict[str, int], dict[str, tuple[str, ...]]]:
    """Oils that have drops; and those of each corner, then of the rest."""
    counts = {name: count for name, count in blend.oil_drops.items() if count}
    note_of = {part.oil.id: part.note for part in blend.oils}
    if corners is None:
        notes = [note for note in NOTES if note in note_of.values()]
        corners = {note: [n for n, own in note_of.items() if own == note] for note in notes}
    groups = {name: tuple(own) for name, own in corners.items()}
    named = [name for own in groups.values() for name in own]
    is_fit = len(groups) == _CORNERS and all(groups.values()) and {*named} <= {*note_of}
    if not is_fit or len({*named}) < len(named):
        needed = "three without a common oil, each with oils of the blend"
        raise BadNumber([Problem("corners", quoted(list(groups)), needed)])
    rest = tuple(name for name in counts if name not in named)
    return counts, {**groups, REST: rest} if rest else groups
