"""Bench events in words, as the log shows them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from blendkit.blend.filling import Filling
from blendkit.foundation.errors import UnknownMaterial
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import ML_PER_M3, counted, show
from blendkit.making.bench_events import (
    LEFT,
    Drops,
    Event,
    Fell,
    Measured,
    MixedIn,
    Remark,
    SavedAs,
    ScaleSays,
    Spilled,
    Start,
    Undo,
)
from blendkit.making.bench_log import Bench, Line
from blendkit.making.mixture import Mixture
from blendkit.materials.amounts import material


def name_of(name: str) -> str:
    """A material's name for people; its id where it is no longer on record."""
    try:
        return material(name).name
    except UnknownMaterial:
        return name


def event_in_words(event: Event) -> str:
    """What happened, in a few words.

    Examples
    --------
    >>> event_in_words(Spilled("1 mL"))
    'Spilled: 1 mL lost'
    """
    return _WORDS[type(event)](event)


def line_in_words(bench: Bench, line: Line) -> str:
    """What happened, and for what was taken back, what it was."""
    if isinstance(line.event, Undo) and 1 <= line.event.number <= len(bench.lines):
        taken = bench.lines[line.event.number - 1]
        return f"Took back no. {taken.number}: {event_in_words(taken.event)}"
    return event_in_words(line.event)


def _start(event: Start) -> str:
    bottle, name = event.document.get("bottle"), event.document.get("name")
    return f"Put a {bottle} bottle on the bench{f' for {name}' if name else ''}"


def _spilled(event: Spilled) -> str:
    return f"Spilled: {event.amount} {'left' if event.means == LEFT else 'lost'}"


def _scale(event: ScaleSays) -> str:
    what = name_of(event.material) if event.material else "all in the bottle"
    return f"The scale says {event.amount} for {what}"


_WORDS: Mapping[type, Callable[[Any], str]] = {
    Start: _start,
    Drops: lambda event: f"+ {counted(event.count, 'drop')} of {name_of(event.material)}",
    Fell: lambda e: f"{counted(e.count, 'drop')} of {name_of(e.material)} fell in unmeant",
    Measured: lambda event: f"+ {event.amount} of {name_of(event.material)}",
    Spilled: _spilled,
    ScaleSays: _scale,
    MixedIn: lambda event: f"+ {event.amount} of another bottle: {event.name}",
    Remark: lambda event: f"“{event.text}”",
    SavedAs: lambda event: f"Kept as version {event.version} of {event.name}",
    Undo: lambda event: f"Took back no. {event.number}",
}


def standing(mixture: Mixture) -> list[str]:
    """Ratio, strength and room of what is in the bottle, in sentences."""
    if not mixture.volume_m3:
        room = show(mixture.room_m3 * ML_PER_M3)
        return [f"The bottle is empty: {room} mL to the mark."]
    has_carrier = mixture.carrier_m3 > 0
    said = [
        f"Oils now: {strengths_in_words(mixture)}." if has_carrier else "No carrier is in yet."
    ]
    room_ml = mixture.room_m3 * ML_PER_M3
    if room_ml > 0.001:
        full = strengths_in_words(mixture.filled_up())
        said.append(f"Room for {show(room_ml)} mL of carrier; filled up to the mark: {full}.")
    elif room_ml < -0.001:
        said.append(f"{show(-room_ml)} mL above the mark.")
    else:
        said.append("Full to the mark.")
    return said


def strengths_in_words(held: Mixture | Filling) -> str:
    """The strength on all three bases."""
    return (
        f"{show(held.strength_by_drops * 100)} % by drops, "
        f"{show(held.strength_by_volume * 100)} % by volume, "
        f"{show(held.strength_by_mass * 100)} % by mass"
    )


def ratio_of_notes(mixture: Mixture) -> str:
    """Drops of each note, such as "top 9 : middle 4.5 : base 8"; empty without any oil."""
    notes: dict[str, float] = {}
    for name in mixture.oils:
        note = mixture.plan.note_of(name)
        notes[note] = notes.get(note, 0.0) + mixture.drops_now(name)
    shown = [(note, notes[note]) for note in NOTES if notes.get(note)]
    return " : ".join(f"{note} {show(drops)}" for note, drops in shown)
