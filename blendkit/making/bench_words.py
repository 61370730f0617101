"""Bench events in words, as the log shows them."""

from collections.abc import Callable, Mapping
from typing import Any

from blendkit.blend.filling import Filling
from blendkit.foundation.errors import UnknownMaterial
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import ML_PER_M3, counted, show
from blendkit.making import bench_events as events
from blendkit.making.bench_log import Bench, Line
from blendkit.making.mixture import Mixture
from blendkit.materials.amounts import add_up, material


def name_of(name: str) -> str:
    """Name of a material; its id where it is no longer on record."""
    try:
        return material(name).name
    except UnknownMaterial:
        return name


def event_in_words(event: events.Event) -> str:
    """Describe an event in a few words.

    Examples
    --------
    >>> event_in_words(events.Spilled("1 mL"))
    'Spilled: 1 mL lost'
    """
    return _WORDS[type(event)](event)


def line_in_words(bench: Bench, line: Line) -> str:
    """Describe a line; for an undo, the event it took back."""
    if isinstance(line.event, events.Undo) and 1 <= line.event.number <= len(bench.lines):
        undone = bench.lines[line.event.number - 1]
        return f"Took back no. {undone.number}: {event_in_words(undone.event)}"
    return event_in_words(line.event)


def _start(event: events.Start) -> str:
    bottle, name = event.document.get("bottle"), event.document.get("name")
    return f"Put a {bottle} bottle on the bench{f' for {name}' if name else ''}"


def _spilled(event: events.Spilled) -> str:
    return f"Spilled: {_shown(event.amount)} {'left' if event.means == events.LEFT else 'lost'}"


def _shown(amount: str) -> str:
    """An amount; a volume that was calculated, to the digits that the bench shows elsewhere."""
    number, _, unit = amount.rpartition(" ")
    is_long = unit == "mL" and number.replace(".", "", 1).isdecimal()
    return f"{show(float(number))} mL" if is_long else amount


def _scale(event: events.ScaleReading) -> str:
    what = name_of(event.material) if event.material else "the whole mixture"
    return f"Scale reading {event.amount} for {what}"


_WORDS: Mapping[type, Callable[[Any], str]] = {
    events.Start: _start,
    events.Drops: lambda e: f"+ {counted(e.count, 'drop')} of {name_of(e.material)}",
    events.AccidentalDrops: lambda e: (
        f"{counted(e.count, 'drop')} of {name_of(e.material)} by accident"
    ),
    events.Measured: lambda event: f"+ {_shown(event.amount)} of {name_of(event.material)}",
    events.Spilled: _spilled,
    events.ScaleReading: _scale,
    events.MixedIn: lambda event: f"+ {event.amount} of another bottle: {event.name}",
    events.Remark: lambda event: f"“{event.text}”",
    events.SavedAs: lambda event: f"Kept as version {event.version} of {event.name}",
    events.Undo: lambda event: f"Took back no. {event.number}",
}


def describe_bottle(mixture: Mixture) -> list[str]:
    """Describe strength of the mixture and room in the bottle."""
    if not mixture.volume_m3:
        room = show(mixture.room_m3 * ML_PER_M3)
        return [f"The bottle is empty: {room} mL to the mark."]
    has_carrier = mixture.carrier_m3 > 0
    now = f"Oils now: {strengths_in_words(mixture)}."
    sentences = [now if has_carrier else "No carrier yet."]
    room_ml = mixture.room_m3 * ML_PER_M3
    if room_ml > 0.001:
        full = strengths_in_words(mixture.fill_up())
        sentences.append(f"Room for {show(room_ml)} mL of carrier; filled to the mark: {full}.")
    elif room_ml < -0.001:
        sentences.append(f"{show(-room_ml)} mL above the mark.")
    else:
        sentences.append("Full to the mark.")
    return sentences


def strengths_in_words(bottle: Mixture | Filling) -> str:
    """Write the strength on all three bases; with mixtures in it, the pure oil as well."""
    pure = ""
    if isinstance(bottle, Filling) and bottle.fields.mixtures:
        pure = f"; pure oil {show(bottle.pure_oil_by_mass * 100)} % by mass"
    return (
        f"{show(bottle.strength_by_drops * 100)} % by drops, "
        f"{show(bottle.strength_by_volume * 100)} % by volume, "
        f"{show(bottle.strength_by_mass * 100)} % by mass{pure}"
    )


def ratio_of_notes(mixture: Mixture) -> str:
    """Write drops by note, such as "top 9 : middle 4.5 : base 8"; empty without any oil."""
    notes = add_up(
        (mixture.plan.note_of(name), mixture.drops_now(name)) for name in mixture.oils
    )
    shown = [(note, notes[note]) for note in NOTES if notes.get(note)]
    return " : ".join(f"{note} {show(drops)}" for note, drops in shown)
