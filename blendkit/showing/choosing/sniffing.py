"""Loudness, duels and blind tests as small pictures, and their trays as pages to print."""

from collections.abc import Mapping, Sequence
from datetime import datetime

import numpy as np

from blendkit.blend.blend import Blend
from blendkit.choosing.blind import Sitting
from blendkit.choosing.loudness import ENOUGH_ANSWERS, ROW, Loudness
from blendkit.foundation.units import show
from blendkit.materials import catalogue
from blendkit.showing.kit.look import NOTE_COLOURS
from blendkit.showing.kit.rendering import render

_FARTHEST = 1000.0  # times louder or weaker that the line reaches
_TICKS = 0.01, 0.1, 1, 10, 100
_MOST_BOTTLES = 6


def loudness_lines(
    found: Loudness, before: Loudness, reference: str, answers: Mapping[str, int]
) -> str:
    """Oils on a line of loudness relative to a reference, loudest first, as HTML.

    A pale band is what published curves say, a strong one what a nose has answered since; both
    hold two chances in three. `answers` counts those about each oil.
    """

    def logs(loudness: Loudness, name: str) -> np.ndarray:
        spans = loudness.drops_as_loud(name, reference)
        return np.asarray(np.log(np.clip(spans, 1 / _FARTHEST, _FARTHEST)))

    prior = {name: logs(before, name) for name in before.oils}
    low, high = (pick([0.0, *np.concatenate([*prior.values()])]) for pick in (min, max))

    def place(log_factor: float) -> float:
        return float(100 * (np.clip(log_factor, low, high) - low) / max(high - low, 1e-9))

    rows = []
    for name in sorted(prior, key=lambda name: -float(logs(found, name)[0])):
        oil, (likely, least, most) = catalogue.oil(name), logs(found, name)
        count = f"{min(answers.get(name, 0), ENOUGH_ANSWERS)} of {ENOUGH_ANSWERS}"
        is_reference = name == reference
        rows.append({
            "name": f"{oil.name} · {'reference' if is_reference else count}",
            "colour": NOTE_COLOURS[oil.note], "mark": place(likely),
            "faint": [*map(place, prior[name][1:])], "band": [place(least), place(most)],
            "words": "as loud" if is_reference else f"{_times(least)} to {_times(most)}",
        })  # fmt: skip
    title = f"Loudness by mass, relative to {catalogue.oil(reference).name}. Pale: by "
    title += "published curves; strong: with these answers. Two chances in three."
    ticks = [(_times(at), place(at)) for at in np.log(_TICKS) if low <= at <= high]
    return render("lines", rows=rows, title=title, ticks=ticks)


def chance_lines(chances: Mapping[int, float]) -> str:
    """Chance of each bottle to be the best of those smelt, the best-liked first, as HTML."""
    rows = [
        _plain_row(f"Bottle {code}", chance, None, f"{chance * 100:.0f} %")
        for code, chance in list(chances.items())[:_MOST_BOTTLES]
    ]
    title = "Chance to be the bottle you like best"
    return render("lines", rows=rows, title=title, ticks=[("0", 0), ("certain", 100)])


def score_line(name: str, count: int, tests: int, needed: int | None = None) -> str:
    """A count out of some tests, and the fewest that tell where they are given, as HTML."""
    mark = None if needed is None else needed / tests * 100
    ticks = [] if mark is None else [("0", 0.0), (f"{needed} would tell", mark)]
    row = _plain_row(name, count / tests, mark, f"{count} of {tests}")
    return render("lines", rows=[row], title="", ticks=ticks)


def _plain_row(name: str, share: float, mark: float | None, words: str) -> dict[str, object]:
    colour = NOTE_COLOURS["middle"]
    return {"name": name, "colour": colour, "faint": None, "band": (0.0, share * 100),
            "mark": mark, "words": words}  # fmt: skip


def unit_of(blend: Blend) -> str:
    """Unit of a blend's counts, as the heading of a column: "Drops", or "× 0.01 g"."""
    return "Drops" if blend.step_kg is None else f"× {blend.plain_count(1)}"


def drops_compared(unit: str, oils: Sequence[str], columns: Mapping[str, Sequence[int]]) -> str:
    """Whole drops of some recipes side by side, a bar for each count, as HTML."""
    most = max(count for counts in columns.values() for count in counts)
    rows = [
        (catalogue.oil(name).name, NOTE_COLOURS[catalogue.oil(name).note], counts)
        for name, *counts in zip(oils, *columns.values(), strict=True)
        if any(counts)
    ]
    totals = [sum(counts) for counts in columns.values()]
    headings = [unit, *columns]
    return render("drops_compared", headings=headings, rows=rows, most=most, totals=totals)


def rest_line(until: datetime | None, now: datetime) -> str:
    """A rest that is still on, with a bar that runs out; it holds nobody up."""
    if until is None or until <= now:
        return ""
    seconds = round((until - now).total_seconds())
    return render("rest", until=f"{until.astimezone():%H:%M}", seconds=seconds)


def loudness_page(oils: Sequence[str], reference: str) -> str:
    """Tray and answer sheet of a loudness match: how to mix the row, and lines to fill in."""
    names, steps = _names(oils), [f"{step:g} %" for step in reversed(ROW)]
    rows = [(name, *("☐" for _ in steps)) for name in names]
    sittings = [("____ % of ____________", "____ % of ____________", "cannot tell")] * 12
    return render("tray_loudness", reference=_names([reference])[0], sittings=sittings,
                  headings=["Oil", *steps], rows=rows)  # fmt: skip


def duel_page(unit: str, oils: Sequence[str], columns: Mapping[str, Sequence[int]]) -> str:
    """Tray and answer sheet of one duel: two codes to smell, and the drops of each."""
    rows = [row for row in zip(_names(oils), *columns.values(), strict=True) if any(row[1:])]
    headings = [unit, *columns]
    return render(
        "tray_duel", sittings=[(*columns, "cannot tell")], headings=headings, rows=rows
    )


def blind_page(ask: str, names: Mapping[str, str], sittings: Sequence[Sitting]) -> str:
    """Tray and answer sheet of a blind test; `names` has the bottle of each letter."""
    strips = [strip for each in sittings for strip in zip(each.order, each.codes, strict=True)]
    rows = [
        (name, " ".join(f"{code}" for of, code in sorted(strips) if of == letter))
        for letter, name in names.items()
    ]
    codes, headings = [each.codes for each in sittings], ["Bottle", "Codes"]
    return render("tray_blind", ask=ask, sittings=codes, headings=headings, rows=rows)


def _names(oils: Sequence[str]) -> list[str]:
    return [catalogue.oil(name).name for name in oils]


def _times(log_factor: float) -> str:
    """A factor as people read it: "as loud", "×10", "÷10"."""
    factor = float(np.exp(abs(log_factor)))
    if factor < 1.05:
        return "as loud"
    return f"{'×' if log_factor > 0 else '÷'}{show(factor, 2)}"
