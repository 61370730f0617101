"""The verdict, what to move, names that a label must carry, and cautions, as HTML."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import pandas as pd

from blendkit.blend.blend import Blend
from blendkit.showing.kit.rendering import render
from blendkit.skin.cautions import Caution
from blendkit.skin.verdict import NOT_CHECKED, Verdict

NO_NAME = "Untitled blend"
_LINES = 3


def verdict_line(blend: Blend, verdict: Verdict, cure: str = "") -> str:
    """A blend's name with the verdict under it, in words and a colour; and what cures it."""
    state, _, line = f"{verdict.line} {cure}".partition(" ")
    if verdict.state == NOT_CHECKED:  # "within" would be read as a pass
        state, line = "Not fully checked.", verdict.line
    name, market = blend.name or NO_NAME, f"for {blend.market}"
    return render(
        "verdict", name=name, market=market, state=state, line=line, kind=verdict.state
    )


def no_verdict(name: str) -> str:
    """As `verdict_line`, for a bottle without an oil."""
    return render(
        "verdict", name=name or NO_NAME, market="", state="", line="No oil yet.", kind="empty"
    )


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
