"""Whole drops from a ratio: largest-remainder (Hamilton) apportionment.

Nobody can add 6.67 drops. Each entry first gets the whole part of its share, and the drops
left over go to the largest fractions, so the total is always exact. The arithmetic is in
exact fractions: a ratio typed as 0.1 means one tenth.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from blendkit.foundation.errors import BadNumber, Problem, quoted, refuse_any
from blendkit.foundation.units import is_positive_number, is_whole_number


def whole_drops(parts: Mapping[str, float], total: int) -> dict[str, int]:
    """Share `total` drops out in whole numbers, in proportion to `parts`.

    Parameters
    ----------
    parts : mapping of str to float
        Name and positive, finite share; only the proportions matter.
    total : int
        Drops to share out, 0 or more.

    Returns
    -------
    dict of str to int
        In the order of `parts`; sums to `total` exactly. Equal remainders go to the earlier
        entry.

    Raises
    ------
    BadNumber
        Lists every part that is not a positive finite number, and a bad total.

    Notes
    -----
    Largest-remainder method; proposed by A. Hamilton in 1792 for seats in a parliament. It
    has a known oddity (the "Alabama paradox"): with one drop more in total, an entry can get
    one drop less.

    Examples
    --------
    >>> whole_drops({"base": 2, "middle": 1, "top": 2}, 40)
    {'base': 16, 'middle': 8, 'top': 16}
    >>> whole_drops({"a": 1, "b": 1, "c": 1}, 10)
    {'a': 4, 'b': 3, 'c': 3}
    """
    problems = list(_part_problems(parts))
    if not is_whole_number(total):
        problems.append(Problem("total", quoted(total), "a whole number, 0 or more"))
    refuse_any(problems)
    quotas = {name: share * total for name, share in shares_of(parts).items()}
    drops = {name: math.floor(quota) for name, quota in quotas.items()}
    # sorted() is stable, so equal remainders keep the order of `parts`
    by_remainder = sorted(quotas, key=lambda name: drops[name] - quotas[name])
    for name in by_remainder[: total - sum(drops.values())]:
        drops[name] += 1
    return drops


def shares_of(parts: Mapping[str, float]) -> dict[str, Fraction]:
    """Parts as exact shares of one.

    Examples
    --------
    >>> shares_of({"a": 0.1, "b": 0.3})
    {'a': Fraction(1, 4), 'b': Fraction(3, 4)}
    """
    exact = {name: Fraction(str(part)) for name, part in parts.items()}
    whole = sum(exact.values())
    return {name: part / whole for name, part in exact.items()}


@dataclass(frozen=True)
class Claim:
    """One oil's claim on the drops of its note.

    Parameters
    ----------
    name, note : str
    parts : float
        Its share within the note, above 0. Not looked at where `fixed` is given.
    fixed : int, optional
        A count the person has set by hand.
    """

    name: str
    note: str
    parts: float
    fixed: int | None = None


def drops_by_note(
    total: int, note_parts: Mapping[str, float], entries: Sequence[Claim]
) -> dict[str, int]:
    """Share drops out in two levels: among the notes, then among the oils of a note.

    A fixed count is kept and counts towards its note. A note that holds only fixed counts,
    or whose fixed counts exceed its share, takes exactly those; the other notes share the
    rest in proportion.

    Parameters
    ----------
    total : int
        Drops of oil in the bottle. When every count is fixed, their sum counts instead.
    note_parts : mapping of str to float
        Share of each note that occurs in `entries`.
    entries : sequence of Claim

    Returns
    -------
    dict of str to int
        Drops by entry name, in the order of `entries`.

    Raises
    ------
    BadNumber
        The fixed counts leave less than nothing for the others.

    Examples
    --------
    >>> oils = [Claim("lemon", "top", 1), Claim("rose", "middle", 1), Claim("myrrh", "base", 1)]
    >>> drops_by_note(40, {"top": 2, "middle": 1, "base": 2}, oils)
    {'lemon': 16, 'rose': 8, 'myrrh': 16}
    """
    return _by_note(total, note_parts, entries, whole_drops)


def targets_by_note(
    total: int, note_parts: Mapping[str, float], entries: Sequence[Claim]
) -> dict[str, Fraction]:
    """Target drops: `drops_by_note` before rounding, with the same parameters and errors."""
    return _by_note(total, note_parts, entries, _divided)


def _divided(parts: Mapping[str, float], total: Fraction) -> dict[str, Fraction]:
    return {name: share * total for name, share in shares_of(parts).items()}


SharedOut = Callable[[Mapping[str, float], Any], dict[str, Any]]


def _by_note(
    total: int, note_parts: Mapping[str, float], entries: Sequence[Claim], share_out: SharedOut
) -> dict[str, Any]:
    fixed = dict.fromkeys(note_parts, 0)
    for entry in entries:
        fixed[entry.note] += entry.fixed or 0
    free_notes = {entry.note for entry in entries if entry.fixed is None}
    of_note: dict[str, Any] = {n: fixed[n] for n in note_parts if n not in free_notes}
    _settle_notes(of_note, total, note_parts, fixed, share_out)
    drops: dict[str, Any] = {entry.name: entry.fixed or 0 for entry in entries}
    for note, count in of_note.items():
        free = {e.name: e.parts for e in entries if e.note == note and e.fixed is None}
        if free:
            drops |= share_out(free, count - fixed[note])
    return drops


def _settle_notes(
    settled: dict[str, Any],
    total: int,
    note_parts: Mapping[str, float],
    fixed: Mapping[str, int],
    share_out: SharedOut,
) -> None:
    """Give every note its drops; a note whose fixed counts exceed its share takes those."""
    while True:
        waiting = [note for note in note_parts if note not in settled]
        if not waiting:
            return
        rest = total - sum(settled.values())
        if rest < sum(fixed[note] for note in waiting):
            needed = f"at most {total}, the drops of oil this strength and bottle allow"
            fix = "Lower the fixed counts, raise the strength or take a larger bottle."
            got = f"{sum(fixed.values())} in all"
            raise BadNumber([Problem("fixed drops", got, needed, fix)])
        shares = share_out({note: note_parts[note] for note in waiting}, rest)
        short = [note for note in waiting if shares[note] < fixed[note]]
        settled |= {note: fixed[note] for note in short} if short else shares


def exact_totals(shares: Sequence[Fraction], near: int) -> list[int]:
    """Totals within a tenth of a target at which every share is a whole number of drops.

    Parameters
    ----------
    shares : sequence of Fraction
        Summing to 1.
    near : int
        The target total.

    Returns
    -------
    list of int
        Nearest first; empty where there is none in reach.

    Examples
    --------
    >>> exact_totals([Fraction(2, 5), Fraction(1, 5), Fraction(2, 5)], near=42)
    [40, 45]
    """
    step = math.lcm(*(share.denominator for share in shares))
    lowest = math.ceil(Fraction(9 * near, 10 * step))
    highest = math.floor(Fraction(11 * near, 10 * step))
    totals = [step * count for count in range(max(lowest, 1), highest + 1)]
    return sorted(totals, key=lambda total: (abs(total - near), total))


def _part_problems(parts: Mapping[str, float]) -> Iterator[Problem]:
    if not parts:
        yield Problem("parts", "nothing", "at least one entry to share the drops among")
    for name, part in parts.items():
        if not is_positive_number(part):
            yield Problem(f"parts of {name}", quoted(part), "a number above 0")
