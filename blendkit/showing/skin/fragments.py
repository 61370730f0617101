"""The verdict, what to move, names that a label must carry, and cautions, as HTML."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import pandas as pd

from blendkit.showing.kit.rendering import render
from blendkit.skin.cautions import Caution
from blendkit.skin.verdict import Verdict

_LINES = 3


def verdict_line(name: str, verdict: Verdict, cure: str = "") -> str:
    """A blend's name with the verdict under it, in words and a colour; and what cures it."""
    state, _, line = f"{verdict.line} {cure}".partition(" ")
    return render("verdict", name=name, state=state, line=line, kind=verdict.state)


def bench_verdict(name: str, verdict: Verdict | None) -> str:
    """As `verdict_line`, for a bottle whose oils cannot be taken out; None without an oil."""
    if verdict is None:
        return render("verdict", name=name, state="", line="No oil yet.", kind="empty")
    cure = "Add carrier, or keep it and open the skin check for the nearest blend."
    return verdict_line(name, verdict, cure if verdict.warning else "")


def note(text: str) -> str:
    """A faint paragraph."""
    return render("note", text=text)


def moves_list(sentences: Sequence[str]) -> str:
    """What to move: three lines, and a fold with the rest."""
    return render("moves", first=sentences[:_LINES], rest=sentences[_LINES:])


def allergen_list(names: pd.DataFrame) -> str:
    """Names that a label must carry, as a small HTML table."""
    rows = names[names["must_be_named"]].to_dict("records")
    return render("allergens", rows=rows)


def caution_list(cautions: Iterable[Caution]) -> str:
    """Cautions by topic, as HTML."""
    rows = [caution._asdict() for caution in cautions]
    return render("cautions", rows=rows)
