"""The fewest drops to move so that whole drops meet a set of inequalities.

An integer programme, solved by HiGHS to proven optimality; ties are broken by further exact
solves, so that one answer is left. Nothing here knows about oils or limits.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blendkit.blend.apportionment import whole_drops
from blendkit.foundation.errors import BlendkitError

_ROW_SIZE = 1e4  # lifts a limit, 1 in its row, far above the solver's tolerance of 1e-6

FloatArray = NDArray[np.float64]
Counts = NDArray[np.int64]


@dataclass(frozen=True)
class Task:
    """Whole drops, the inequalities they must meet, and what else is asked.

    Attributes
    ----------
    drops : array of int, shape (oils,)
        As they are; at least one in all.
    rows, right : array, shape (inequalities, oils) and (inequalities,)
        Drops n pass where ``rows @ n <= right``.
    notes : tuple of str
        By oil.
    keep : str or None
        "total": the drops in all. "ratio": the notes' drops are what `whole_drops` makes of the
        present ones at the new total (notes by name). "both". None: neither.
    at_least : int
        Drops that each oil keeps, where it has as many now.
    swaps : tuple of (int, int)
        Places of an oil and of the gentler kind its drops may be changed for.
    """

    drops: Counts
    rows: FloatArray
    right: FloatArray
    notes: tuple[str, ...]
    keep: str | None = None
    at_least: int = 0
    swaps: tuple[tuple[int, int], ...] = ()


def nearest_drops(task: Task) -> tuple[Counts, Counts, int] | None:
    """The whole drops nearest to the present ones that meet every inequality.

    Returns
    -------
    drops : array of int, shape (oils,)
        At least one in all.
    swapped : array of int, shape (swaps,)
        Drops changed by each swap.
    moved : int
        Drops put in, taken out or swapped; a swapped drop counts once. Without swaps, the sum
        of absolute changes. None instead of all three where no whole drops meet everything.

    Notes
    -----
    Among the solutions that move fewest, those are taken in turn that lie nearest to the
    present total, rather below than above it; whose notes lie nearest to their present shares;
    whose changes are in proportion to the drops (least sum of squared change over drops); and
    that change the first oil least, then the second, and so on, rather down than up. Each is a
    further integer programme, so exactly one answer is left.
    """
    programme = _Programme(task)
    fewest = programme.row(up=1, down=1, swap=1)
    best = programme.minimise(fewest)
    if best is None:
        return None
    moved = round(best[1])
    if moved == 0:
        return programme.drops, np.zeros(len(task.swaps), int), 0
    programme.add_row(fewest, -np.inf, moved + 0.25)
    for cost, slack in programme.ties(moved):
        best = programme.minimise(cost)
        if best is None:
            break  # rounding in the solver; what is found so far is as near
        programme.add_row(cost, -np.inf, best[1] + slack)
    found = programme.found
    drops, swapped = (np.rint(found[programme.at[name]]).astype(int) for name in ("n", "swap"))
    return drops, swapped, moved


def nearest_miss(task: Task, limits: int) -> Counts:
    """The drops that overstep the first `limits` inequalities least, by their summed excess."""
    programme = _Programme(task, limits)
    best = programme.minimise(programme.row(excess=1))
    assert best is not None  # the present drops meet every other inequality
    return np.rint(best[0][programme.at["n"]]).astype(int)


def whole_optimum(
    cost: FloatArray,
    rows: FloatArray,
    between: tuple[Any, Any],
    bounds: tuple[Any, Any],
    is_whole: Any = 1,
    **options: float,
) -> Any:
    """Least cost within rows and bounds in whole numbers; as `scipy.optimize.milp` has it.

    To the very optimum, unless `options` of that function ask for less.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    asked: Any = {"mip_rel_gap": 0.0} | options
    return milp(
        cost,
        constraints=LinearConstraint(rows, *between),
        bounds=Bounds(*bounds),
        integrality=is_whole,
        options=asked,
    )


class _Programme:
    """The integer programme of a task, over named blocks of columns.

    `n` final drops, by oil; `up` drops put in; `down` taken out; `swap` changed; `cycles` whole
    repeats of the note ratio; `step` which remainder is left of it; `gap` from the present
    total; `lean` of each note from its share; `square` of each oil's change; `excess` over
    each row that may be overstepped.
    """

    def __init__(self, task: Task, soft: int = 0) -> None:
        self.task, self.drops = task, task.drops
        notes = sorted(set(task.notes))
        self.of_note = np.array([[note == own for own in task.notes] for note in notes])
        oils, swaps = len(task.drops), len(task.swaps)
        self.out, self.into = np.zeros((2, oils, swaps))
        for place, (source, target) in enumerate(task.swaps):
            self.out[source, place] = self.into[target, place] = 1
        self.cycle = self.of_note @ self.drops
        self.cycle //= math.gcd(*self.cycle.tolist())
        steps = int(self.cycle.sum()) if task.keep == "ratio" else 0
        sizes = {"n": oils, "up": oils, "down": oils, "swap": swaps, "cycles": 1, "step": steps}
        sizes |= {"gap": 1, "lean": len(self.of_note), "square": oils, "excess": soft}
        ends = np.cumsum(list(sizes.values())).tolist()
        blocks = zip(sizes.items(), ends, strict=True)
        self.at = {name: slice(end - size, end) for (name, size), end in blocks}
        self.low, self.high = np.zeros(ends[-1]), np.full(ends[-1], np.inf)
        self.whole = np.arange(ends[-1]) < self.at["lean"].start
        self.bounds: list[tuple[FloatArray, float, float]] = []
        self.found = np.zeros(ends[-1])  # by the last solve
        self._set_columns(soft)
        self._add_inequalities(soft)
        self._add_measures()
        if task.keep == "ratio":
            self._add_ratio(steps)
        if task.keep == "both":  # at the present total, the ratio asks for the present drops
            for inside in self.of_note:
                self.add_row(self.row(n=inside), inside @ self.drops, inside @ self.drops)

    def row(self, **blocks: ArrayLike) -> FloatArray:
        row = np.zeros(len(self.whole))
        for name, values in blocks.items():
            row[self.at[name]] = values
        return row

    def add_row(self, row: FloatArray, low: float, high: float) -> None:
        self.bounds.append((row, low, high))

    def minimise(self, cost: FloatArray) -> tuple[FloatArray, float] | None:
        if (self.low > self.high).any():
            return None
        rows, low, high = zip(*self.bounds, strict=True)
        bounds, whole = (self.low, self.high), self.whole.astype(int)
        found = whole_optimum(cost, np.array(rows), (low, high), bounds, whole)
        if found.x is None and "infeasible" not in found.message.lower():
            raise BlendkitError(f"The search for the nearest blend stopped: {found.message}")
        if found.x is None:
            return None
        self.found = found.x
        return found.x, found.fun

    def ties(self, moved: int) -> Iterator[tuple[FloatArray, float]]:
        """Objectives to minimise in order, each with its tolerance."""
        total = float(self.drops.sum())
        yield self.row(gap=1, up=0.5 / (moved + 1)), 0.125 / (moved + 1)
        yield self.row(lean=1), 0.25 / total
        touched = self.out + self.into
        # no oil loses more drops than it has, nor gets more than all get; a swap may do both
        reach = np.maximum(self.drops, np.rint(self.found[self.at["up"]].sum()))
        reach = np.where(touched.any(axis=1), moved, np.minimum(reach, moved)).astype(int)
        for oil, most in zip(np.eye(len(self.drops)), reach.tolist(), strict=True):
            change = self.row(up=oil, down=oil, swap=oil @ touched)
            # chords of the square between neighbouring whole numbers: exact on those
            for low in range(most):
                chord = (2 * low + 1) * change - self.row(square=oil)
                self.add_row(chord, -np.inf, low * (low + 1))
        yield self.row(square=1 / np.maximum(self.drops, 1)), 1e-6
        a_little = 0.25 / total
        for oil in np.eye(len(self.drops)):
            up, down = oil * (1 + a_little), oil
            swap = up @ self.into + down @ self.out
            cost = self.row(up=up, down=down, swap=swap)
            if cost @ self.found < a_little / 4:  # it does not change, and so never need
                self.high[cost > 0] = 0
            else:
                yield cost, a_little / 4

    def _set_columns(self, soft: int) -> None:
        most = np.full(len(self.drops), np.inf)
        hard = zip(self.task.rows[soft:], self.task.right[soft:], strict=True)
        # rows without negative terms first: they bound the oils that relieve the others
        for row, right in sorted(hard, key=lambda pair: bool((pair[0] < 0).any())):
            relief = row < 0
            spare = right - row[relief] @ most[relief]
            fit = np.floor(spare / np.where(row > 0, row, np.nan) + 1e-9)
            most = np.fmin(most, np.maximum(fit, 0))
        self.high[self.at["n"]] = most
        self.low[self.at["n"]] = np.minimum(self.drops, self.task.at_least)
        newcomer = self.into.any(axis=1) & (self.drops == 0)
        self.high[self.at["up"]] = np.where(newcomer, 0, np.inf)
        self.high[self.at["down"]] = self.drops
        self.high[self.at["swap"]] = self.drops @ self.out
        if self.task.keep in ("total", "both"):
            self.high[self.at["gap"]] = 0

    def _add_inequalities(self, soft: int) -> None:
        # an oil of which not one drop fits has no place in a row: its term may be huge
        rows = np.where(self.high[self.at["n"]] == 0, 0, self.task.rows) * _ROW_SIZE
        excess = np.eye(len(rows), soft) * -_ROW_SIZE
        for row, over, right in zip(rows, excess, self.task.right * _ROW_SIZE, strict=True):
            self.add_row(self.row(n=row, excess=over), -np.inf, right)
        self.add_row(self.row(n=1), 1, np.inf)

    def _add_measures(self) -> None:
        total = float(self.drops.sum())
        swapped = self.out - self.into
        for place, oil in enumerate(np.eye(len(self.drops))):
            now = self.drops[place]
            change = self.row(n=oil, up=-oil, down=oil, swap=oil @ swapped)
            self.add_row(change, now, now)
        for sign in (1, -1):
            self.add_row(self.row(n=sign, gap=-1), -np.inf, sign * total)
            for inside, lean in zip(self.of_note, np.eye(len(self.of_note)), strict=True):
                off = inside - inside @ self.drops / total
                self.add_row(self.row(n=sign * off, lean=-lean), -np.inf, 0)

    def _add_ratio(self, steps: int) -> None:
        # largest remainders repeat: a whole cycle more gives each note its part of the cycle
        parts = {str(place): share for place, share in enumerate(self.cycle.tolist()) if share}
        rest = [whole_drops(parts, step) for step in range(steps)]
        self.add_row(self.row(step=1), 1, 1)
        for place, (inside, share) in enumerate(zip(self.of_note, self.cycle, strict=True)):
            step = [-drops.get(str(place), 0) for drops in rest]
            self.add_row(self.row(n=inside, cycles=-share, step=step), 0, 0)
