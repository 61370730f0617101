"""Run sheet of a class: turns, and the table of each bottle, minute by minute.

The oils of one note are on one tray. A tray goes from table to table, and every table gets
the notes from the base up (mixing order: common practice, no published source). While a tray is
at a table, its seats take turns, so that no bottle is wanted by two hands at once **whatever
each seat chooses**. A table without a tray does its exercises.

Trays are handed out in blocks of equal length, each table in turn taking the earliest block in
which its next note is free. Where one note has the fewest copies, no plan with blocks can be
shorter: its tray must be at every table, after the notes before it and before those after it.
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from blendkit.blend.apportionment import whole_drops
from blendkit.foundation.errors import Problem
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import counted
from blendkit.teaching.choice_chances import choice_groups
from blendkit.teaching.class_document import BadClass, ClassPlan, PaletteOil
from blendkit.teaching.free_choice import ChoiceCard
from blendkit.teaching.plan import seat_plans

# To count out one oil, at about a drop a second, and hand on; each further oil of the note
# takes half as long. A judgement, as are all minutes here. The longest that fits is taken.
TURN_MINUTES = (3, 2, 1)
# least and most minutes of each part; what is spare goes to all of them in proportion
BEFORE = (("welcome", 5, 8), ("card and cautions", 5, 10), ("sniff and choose", 10, 25))
AFTER = (
    ("fill, close, shake", 8, 12), ("label and take-home card", 5, 10), ("clear up", 5, 8)
)  # fmt: skip
_SPARE = "break and questions"  # what is still left, before the bottles are filled
Trays = Mapping[str, Sequence[PaletteOil]]  # oils by note, from the base up


class RunLine(NamedTuple):
    """One line of the run sheet.

    Attributes
    ----------
    start, minutes : int
        Minutes from the beginning.
    table : int or None
        From 1; None for all tables.
    seats : tuple of str
        Whose turn it is; empty for everybody.
    what : str
    oils : tuple of str
        Ids of the oils at that table.
    """

    start: int
    minutes: int
    table: int | None
    seats: tuple[str, ...]
    what: str
    oils: tuple[str, ...]


class RunSheet(NamedTuple):
    """A class by the minute.

    Attributes
    ----------
    entries : tuple of RunLine
        By start, then by table.
    words : tuple of str
        Sentences on what holds the class up, and what would help.
    """

    entries: tuple[RunLine, ...]
    words: tuple[str, ...]


def run_sheet(plan: ClassPlan, card: ChoiceCard | None = None) -> RunSheet:
    """A class's run sheet.

    Parameters
    ----------
    plan : ClassPlan
    card : ChoiceCard, optional
        Where it caps an oil, a seat may need a second one of the same note in its turn.

    Raises
    ------
    BadClass
        It does not fit the minutes; says how many it needs, and what would help.
    """
    tables = min(plan.tables, len(plan.seats))
    trays = {note: tray for note in reversed(NOTES) if (tray := plan.of_note(note))}
    blocks = assign_blocks(tables, _copies(trays))
    seats, oils = math.ceil(len(plan.seats) / tables), _oils_at_a_turn(plan, card)
    fixed = sum(least for _, least, _ in (*BEFORE, *AFTER))
    for minutes in TURN_MINUTES:
        turn = minutes + math.ceil(minutes * (oils - 1) / 2)
        length = turn * seats
        mixing = length * _count(blocks)
        spare = plan.minutes - fixed - mixing
        if spare >= 0:
            break
    advice = (
        f"A turn is {counted(turn, 'minute')} for up to {counted(oils, 'oil')} (judgement).",
        *_what_would_help(plan, trays, blocks, length, has_time=spare >= 0),
    )
    if spare < 0:
        got = f"{plan.minutes} minutes for {counted(len(plan.seats), 'seat')}"
        needed = f"{fixed + mixing} minutes ({mixing} of them for counting drops)"
        raise BadClass([Problem("minutes", got, needed, " ".join(advice))])
    return RunSheet(tuple(_lay_out(plan, trays, blocks, length, spare)), advice)


def _copies(trays: Trays, more_of: str = "") -> list[int]:
    """Tables that each tray can serve at once, with a bottle more of each oil of one note."""
    return [min(e.bottles for e in oils) + (note == more_of) for note, oils in trays.items()]


def _oils_at_a_turn(plan: ClassPlan, card: ChoiceCard | None) -> int:
    """Most oils of one note in any bottle that a seat may choose; at least one."""
    if plan.blends:
        per_note = Counter(
            (place, part.note)
            for place, each in enumerate(plan.blends)
            for part in each.blend.oils
        )
        return max(per_note.values(), default=1)
    mixing = [each for each in seat_plans(plan) if each.can_mix]
    groups = choice_groups(plan, card) if mixing else ()
    outcomes = (drops for group in groups for seat in group.seats for drops, _ in seat)
    return max((sum(count > 0 for count in drops) for drops in outcomes), default=1)


def assign_blocks(tables: int, copies: Sequence[int]) -> list[list[int]]:
    """Assign a block to each table and tray, from block 0.

    Parameters
    ----------
    tables : int
    copies : sequence of int
        How many tables each tray can serve at once, in the order of the notes.

    Returns
    -------
    list of list of int
        By table, by tray; rising within a table.

    Examples
    --------
    >>> assign_blocks(2, [1, 1, 1])
    [[0, 1, 2], [1, 2, 3]]
    """
    in_use: Counter[tuple[int, int]] = Counter()
    rows = []
    for _ in range(tables):
        row: list[int] = []
        for tray, most in enumerate(copies):
            block = row[-1] + 1 if row else 0
            while in_use[tray, block] >= most:
                block += 1
            in_use[tray, block] += 1
            row.append(block)
        rows.append(row)
    return rows


def _count(blocks: Sequence[Sequence[int]]) -> int:
    return 1 + max(max(row) for row in blocks)


def _what_would_help(
    plan: ClassPlan, trays: Trays, blocks: list[list[int]], length: int, *, has_time: bool
) -> list[str]:
    tables, now = len(blocks), _count(blocks)
    sentences = []
    for note, tray in trays.items():
        saved = now - _count(assign_blocks(tables, _copies(trays, note)))
        if saved > 0:
            fewest = min(each.bottles for each in tray)
            names = " and ".join(each.oil.name for each in tray if each.bottles == fewest)
            mixing = f"from {now * length} to {(now - saved) * length} minutes"
            enough = "; this class has the time without it" if has_time else ""
            more = f"One bottle more of {names} would bring the counting {mixing}{enough}."
            sentences.append(more)
    if not sentences and now > len(trays):
        sentences.append("One bottle more of every oil would shorten the waiting.")
    if tables > 1 and now == len(trays):
        sentences.append("No table waits for a bottle.")
    if length > 4 and len(plan.seats) > tables:
        sentences.append("More tables, each with bottles of its own, shorten the turns.")
    return sentences


def _lay_out(
    plan: ClassPlan, trays: Trays, blocks: list[list[int]], length: int, spare: int
) -> list[RunLine]:
    entries = []
    minutes, before = _share_out(spare), [what for what, _, _ in BEFORE]
    counting = sum(minutes[what] for what in before)  # the minute in which it begins
    clock = 0
    for what in (*before, "", _SPARE, *(what for what, _, _ in AFTER)):  # "": drops counted
        lasts = minutes.get(what, _count(blocks) * length)
        if what and lasts:
            entries.append(RunLine(clock, lasts, None, (), what, ()))
        clock += lasts
    for table, row in enumerate(blocks, start=1):
        edges = (round(n * len(plan.seats) / len(blocks)) for n in (table - 1, table))
        seats = plan.seats[slice(*edges)]  # neighbours side by side, tables as equal as can be
        for block in range(_count(blocks)):
            start = counting + block * length
            if block not in row:
                entries.append(RunLine(start, length, table, (), "exercises", ()))
                continue
            note = list(trays)[row.index(block)]
            oils = tuple(each.oil.id for each in trays[note])
            turn = length // len(seats)
            for place, seat in enumerate(seats):  # a smaller table has a longer turn at the end
                lasts = turn if seat != seats[-1] else length - turn * place
                turns = (start + turn * place, lasts, table, (seat.label,))
                entries.append(RunLine(*turns, f"{note} note", oils))
    return sorted(entries, key=lambda each: (each.start, each.table or 0))


def _share_out(spare: int) -> dict[str, int]:
    """Minutes of each part: its least, with its share of what is spare up to its most."""
    parts = (*BEFORE, *AFTER)
    room = {what: most - least for what, least, most in parts}
    given = whole_drops(room, min(spare, sum(room.values())))
    minutes = {what: least + given[what] for what, least, _ in parts}
    return {**minutes, _SPARE: spare - sum(given.values())}


def clock_time(plan: ClassPlan, minute: int) -> str:
    """A minute of the class on the clock, where the class has a beginning; else from 0:00."""
    hours, minutes = divmod((plan.starts_at_min or 0) + minute, 60)
    return f"{hours % 24}:{minutes:02d}"
