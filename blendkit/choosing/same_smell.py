"""The nearest blend from what is on the shelf, where an oil is missing or a lot differs.

Two blends smell alike as far as they share constituents, each counted by how strong it smells
over the hours of wear. What is lost and gained is linear in whole drops, as every skin limit
is, so the nearest blend is an integer programme: HiGHS solves it to proven optimality, or says
by how much the best one found may fall short.

Shared constituents are a coarse measure: against rated likeness of mixtures they reach a rank
correlation of about 0.6 in one published set and 0.3 in another (2013 and 2020), no worse than
other simple measures.
"""

import contextlib
import ctypes
import os
import threading
import time
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

import numpy as np

from blendkit.blend.blend import Blend
from blendkit.choosing.loudness import Counts
from blendkit.choosing.scents import scents_of
from blendkit.evaporation.design import with_more_oils
from blendkit.foundation.errors import BadNumber, BlendkitError, Problem, near_miss, quoted
from blendkit.foundation.units import FloatArray, show
from blendkit.materials import catalogue
from blendkit.skin import check
from blendkit.skin.counted_bottle import LEEWAYS, CountedBottle
from blendkit.skin.nearest import whole_optimum
from blendkit.skin.reformulation import Infeasible

NEAR = 0.25  # overlap below which an oil is no relative of the missing one (judgement)
LONGEST_S = 2.0
MOST_CHANGED = 3
_ROW_SIZE = 1e4  # lifts a limit far above the solver's tolerance
_PROVED = 1e-4
_LEAST_S = 0.1  # of a further search, where the first was over a limit by rounding
_SAID = 3  # constituents named
_FIX = "Let more materials change, or take a larger bottle."


class Change(NamedTuple):
    """A constituent, and its share of the smell before and after. [-]"""

    constituent: str
    before: float
    after: float


class Replacement(NamedTuple):
    """A blend near to another, without one of its oils.

    Attributes
    ----------
    blend : Blend
        Every count fixed by ``drops``.
    overlap : float
        1 less what is lost and what is gained, as shares of the smell; at least 0. [-]
    bound : float
        Overlap that no other blend of the kind exceeds, as proved. [-]
    relative : str
        Id of the nearest relative of the missing oil; empty where there was none to look at.
    relative_overlap : float
        As of `relatives`. [-]
    changes : tuple of Change
        Largest first.
    hourly : ndarray, shape (3, hours)
        Kept, lost and gained at each of `scents.HOURS`, as shares of the smell then. [-]
    sentences : tuple of str
    """

    blend: Blend
    overlap: float
    bound: float
    relative: str
    relative_overlap: float
    changes: tuple[Change, ...]
    hourly: FloatArray
    sentences: tuple[str, ...]

    @property
    def is_near(self) -> bool:
        """Whether a relative of the missing oil is among those looked for."""
        return self.relative_overlap >= NEAR


def relatives(oil_id: str, among: Collection[str], blend: Blend) -> dict[str, float]:
    """Overlap of an oil's smell with that of others, nearest first: shared over either. [-]

    In the blend's bottle without its other oils: each in the whole drops, up to twice those of
    the missing oil, whose smell is nearest.
    """
    drops = blend.oil_drops.get(oil_id) or max(round(sum(blend.oil_drops.values()) / 10), 1)
    entry = {"id": oil_id, "note": catalogue.oil(oil_id).note, "drops": drops}
    alone = blend.with_(oils=[entry], note_parts={entry["note"]: 1})
    bottle = CountedBottle(with_more_oils(alone, list(among)), (), {})
    scents = scents_of(bottle)
    target, weights = scents.amounts, scents.weights(drops)
    best = np.zeros(len(bottle.ids))
    for count in range(1, 2 * drops + 1):
        shared = np.minimum(count * scents.per_drop, target) @ weights
        either = np.maximum(count * scents.per_drop, target) @ weights
        best = np.maximum(best, shared / either)
    found = sorted(zip(best.tolist(), bottle.ids, strict=True), key=lambda pair: -pair[0])
    return {name: overlap for overlap, name in found if name != oil_id}


def replace_oil(
    blend: Blend,
    missing: str,
    shelf: Mapping[str, float] | None,
    *,
    excluded: Collection[str] = (),
    most_changed: int = MOST_CHANGED,
    longest_s: float = LONGEST_S,
) -> Replacement:
    """The blend without one oil that smells most like the blend with it.

    Parameters
    ----------
    blend : Blend
    missing : str
        Id of the oil, or of the lot, that is not to be used.
    shelf : mapping of str to float, or None
        Volume left of each oil. None: nothing is on record, so the whole catalogue counts. [m3]
    excluded : collection of str, optional
        Oils not to bring in, such as a wearer's exclusions.
    most_changed : int, optional
        Materials, beyond the missing one, whose drops may change.
    longest_s : float, optional
        After which the search takes the best found so far. [s]

    Raises
    ------
    BadNumber
        The oil is not in the blend.
    Infeasible
        No whole drops keep the limits, advice among them; names them.
    """
    if not blend.oil_drops.get(missing):
        hint = near_miss(missing, blend.oil_drops)
        raise BadNumber([Problem("missing", quoted(missing), "an oil of this blend", hint)])
    barred = {missing, *excluded, *check.not_for_skin()}
    known = {name: np.inf for name in catalogue.oil_ids() if name not in barred}
    there = known if shelf is None else shelf
    left = {name: left_m3 for name, left_m3 in there.items() if left_m3 > 0 and name in known}
    start = with_more_oils(blend, list(left))
    bottle = CountedBottle(start, check.rules_in(start), {})
    search = _Search(bottle, left, missing, most_changed)
    until = time.monotonic() + longest_s
    for leeway in LEEWAYS:
        drops, bound = search.solve(leeway, max(until - time.monotonic(), _LEAST_S))
        if not bottle.over(drops):
            break
    else:
        raise BlendkitError("The search found only blends that are over a limit by rounding.")
    relative, kinship = next(iter(relatives(missing, left, blend).items()), ("", 0.0))
    changes, words = search.changes(drops), bottle.moves_in_words(drops, np.zeros(0, int))
    if kinship < NEAR:
        name = catalogue.oil(missing).name
        where = "in the catalogue" if shelf is None else "on your shelf"
        words.insert(0, f"No near relative of {name} is {where}.")
    words += search.in_words(drops, bound, changes, longest_s)
    words += [] if shelf is not None else ["No stock is on record: the whole catalogue counts."]
    return Replacement(
        bottle.make(drops), search.overlap(drops), bound, relative, kinship, tuple(changes),
        search.hourly(drops), tuple(words),
    )  # fmt: skip


class _Search:
    """The integer programme over final drops, marks of oils that change, and distances."""

    def __init__(
        self,
        bottle: CountedBottle,
        left: Mapping[str, float],
        missing: str,
        most_changed: int,
    ) -> None:
        self.bottle, self.most_changed = bottle, most_changed
        place, now = bottle.ids.index(missing), bottle.drops
        self.scents = scents = scents_of(bottle)
        self.reach = now[place]
        weights = scents.weights(self.reach)
        self.molecules = scents.molecules
        self.share = scents.per_drop * weights  # of the smell, by one drop
        self.target = scents.amounts * weights
        self.without = bottle.with_more(now, place, -now[place])
        on_shelf = [
            left.get(n, np.inf) / v for n, v in zip(bottle.ids, bottle.drop_m3, strict=True)
        ]
        # more of one oil than of all before would be another perfume
        most = np.floor(np.minimum(on_shelf, now.sum()) + 1e-9)
        self.most = np.where(np.arange(len(now)) == place, 0, np.maximum(most, now))

    def overlap(self, drops: Counts) -> float:
        """1 less what is lost and gained of the smell, at least 0. [-]"""
        return max(1 - float(np.abs(drops @ self.share - self.target).sum()), 0.0)

    def changes(self, drops: Counts) -> list[Change]:
        """Constituents that change, largest change first."""
        found = map(Change, self.molecules, self.target, drops @ self.share)
        rows = [row for row in found if abs(row.after - row.before) > _PROVED]
        return sorted(rows, key=lambda row: -abs(row.after - row.before))

    def hourly(self, drops: Counts) -> FloatArray:
        """What is kept, lost and gained at each hour, as shares of the smell then. [-]"""
        weights = self.scents.hourly_weights(self.reach)
        before, after = self.scents.amounts, drops @ self.scents.per_drop
        rows = np.minimum(before, after), before - after, after - before
        return np.array([np.maximum(row, 0.0) @ weights for row in rows])

    def in_words(
        self, drops: Counts, bound: float, changes: list[Change], longest_s: float
    ) -> list[str]:
        """Nearness, proof, and what is lost and gained."""
        kept, left_out = (show(self.overlap(n) * 100, 2) for n in (drops, self.without))
        stays = f"{kept} % of the smell stays, by constituents"
        words = [f"{stays}; {left_out} % with it left out."]
        if bound - self.overlap(drops) < _PROVED:
            words.append("No other whole drops of the kind keep more: proved.")
        else:
            most = show(bound * 100, 2)
            found = f"The best found in {show(longest_s)} s"
            words.append(f"{found}; a nearer one could keep at most {most} %.")
        for word, sign in (("Lost", 1), ("Gained", -1)):
            rows = [row for row in changes if sign * (row.before - row.after) > 0][:_SAID]
            words += [f"{word}: {', '.join(row.constituent for row in rows)}."] if rows else []
        return words

    def solve(self, leeway: float, longest_s: float) -> tuple[Counts, float]:
        """Whole drops, and the overlap that is proved not to be exceeded.

        Columns: drops of each oil, a mark where they change, and how far each constituent is
        from its share of the smell.
        """
        counts = self.share.any(axis=0)
        share, target = self.share[:, counts].T, self.target[counts]
        molecules, oils = share.shape
        now, walls = self.bottle.drops, len(self.bottle.walls)
        rows, right = self.bottle.inequalities(leeway)
        # an oil of which not one drop fits has no place in a row: its term may be huge
        barred = (rows > np.maximum(right, 0)[:, None] + 1.0).any(axis=0) & (now == 0)
        high = np.where(barred, 0, self.most)
        sizes = np.r_[np.full(len(rows) - walls, _ROW_SIZE), np.ones(walls)]
        rows = np.where(high == 0, 0, rows) * sizes[:, None]
        one, reach, each = np.eye(oils), np.diag(np.maximum(high - now, now)), np.eye(molecules)
        left, none = np.zeros_like(share), np.zeros_like(share.T)
        matrix = np.block([
            [share, left, -each],
            [-share, left, -each],
            [rows, np.zeros((len(rows), oils + molecules))],
            [one, -reach, none],
            [-one, -reach, none],
            [np.zeros(oils), (self.most > 0) * 1.0, np.zeros(molecules)],
            [-np.ones(oils), np.zeros(oils + molecules)],
        ])  # fmt: skip
        tops = target, -target, right * sizes, now, -now, [self.most_changed], [-1]
        with _quiet():
            found = whole_optimum(
                np.r_[np.zeros(2 * oils), np.ones(molecules)],
                matrix,
                (-np.inf, np.concatenate(tops)),
                (0, np.r_[high, np.ones(oils), np.full(molecules, np.inf)]),
                np.r_[np.ones(2 * oils), np.zeros(molecules)],
                mip_rel_gap=1e-6,
                time_limit=longest_s,
            )
        if found.x is None:
            over = self.bottle.obstacles(self.without, _FIX) if self.without.any() else []
            raise Infeasible(
                over or [Problem("replacement", "none", "oils within limits", _FIX)]
            )
        return np.rint(found.x[:oils]).astype(int), min(1 - float(found.mip_dual_bound), 1.0)


_ONE_BY_ONE = threading.Lock()


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep from the page the lines that HiGHS prints past its own option for silence."""
    with _ONE_BY_ONE, Path(os.devnull).open("w") as nowhere:
        kept = os.dup(1)
        os.dup2(nowhere.fileno(), 1)
        try:
            yield
        finally:
            with contextlib.suppress(OSError, AttributeError, TypeError):
                ctypes.CDLL(None).fflush(None)  # elsewhere than on POSIX it may print later
            os.dup2(kept, 1)
            os.close(kept)
