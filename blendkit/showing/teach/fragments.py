"""Pieces of HTML for the panel of a class."""

from collections.abc import Sequence
from typing import Any

from blendkit.blend.blend import Blend
from blendkit.showing.kit.rendering import render
from blendkit.showing.teach.words import ENGLISH, Words, words_in
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.free_choice import ChoiceCard, drops_in_words
from blendkit.teaching.hand_in import HandedIn
from blendkit.teaching.judging import judge
from blendkit.teaching.laptop import AtSeat
from blendkit.teaching.plan import ASK, seat_plans, why_without
from blendkit.teaching.run_sheet import clock_time, run_sheet


def seat_picture(plan: ClassPlan) -> str:
    """Oils that each seat may use, as a field of dots, with its carrier."""
    oils = [each.oil for each in plan.oils]
    carriers = {each.id: each.name for each in plan.carriers}
    heads = _short([oil.name for oil in oils])
    seats = seat_plans(plan)
    cautions: dict[tuple[int, str], str] = {
        (found.seat.number, each.material): f"{each.because}: {each.text}"
        for found in seats
        for each in found.cautions
    }
    return render(
        "class_seats", oils=oils, heads=heads, seats=seats, carriers=carriers,
        cautions=cautions,
    )  # fmt: skip


def _short(names: list[str]) -> list[str]:
    """Names without the part in brackets, where they stay different."""
    short = [name.partition(" (")[0] for name in names]
    return [s if short.count(s) == 1 else n for s, n in zip(short, names, strict=True)]


def run_lines(plan: ClassPlan, card: ChoiceCard | None, words: Words) -> list[dict[str, Any]]:
    """The run sheet, a line for each tray at a table, with the turns of its seats."""
    named = {seat.label: seat.name or words.room_seat(seat) for seat in plan.seats}
    lines: list[dict[str, Any]] = []
    at_table: dict[int | None, dict[str, Any]] = {}
    for entry in run_sheet(plan, card).entries:
        clock = clock_time(plan, entry.start)
        turns = [(clock, named[seat]) for seat in entry.seats]
        line = at_table.get(entry.table)
        if turns and line and line["oils"] == entry.oils:
            line["turns"] += turns
            line["minutes"] += entry.minutes
            continue
        line = {"clock": clock, "turns": turns, **entry._asdict()}
        at_table[entry.table] = line
        lines.append(line)
    return lines


def run_list(plan: ClassPlan, card: ChoiceCard | None) -> str:
    """The run sheet as an HTML table."""
    words = words_in(ENGLISH)
    return render("class_run", run=run_lines(plan, card, words), words=words, say=words.say)


def seat_card(at_seat: AtSeat, blend: Blend) -> str:
    """The class's oils and carriers, with what a bottle has of each, and the most of it."""
    plan, card, seat = at_seat
    out = {name: why_without(seat, each) for name, each in plan.materials.items()}
    return render(
        "class_seat", card=card, total=plan.most_drops(seat), drops=blend.oil_drops, out=out,
        marked=seat.marked, ask=ASK, oils=[each.oil for each in plan.oils],
        carriers=plan.carriers,
    )  # fmt: skip


def gathered_list(seats: Sequence[HandedIn], plan: ClassPlan, card: ChoiceCard | None) -> str:
    """Blends handed in, by seat, with what breaks the seat's rules, the card or a limit."""

    def found(one: HandedIn) -> Sequence[str]:
        seat = plan.seat_named(one.seat)
        return judge(plan, card, seat, one.blend).sentences if one.blend else ()

    return render("class_gathered", seats=seats, found=found, drops=drops_in_words)
