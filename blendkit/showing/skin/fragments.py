"""The line of the verdict, and a note, as HTML."""

from blendkit.blend.blend import Blend
from blendkit.showing.kit.rendering import render
from blendkit.skin.verdict import NOT_CHECKED, Verdict

NO_NAME = "Untitled blend"
_METER_ENDS = 1.5  # times the limit


def verdict_line(
    blend: Blend,
    verdict: Verdict,
    cure: str = "",
    *,
    name: str = "",
    held: Verdict | None = None,
) -> str:
    """The verdict on a blend, in words and a colour, with a meter of the closest limit.

    `cure` is added to the words. A `name` takes the place of "On skin", for a panel that
    does not show it above; a verdict that is held for comparison is a second bar of the meter.
    """
    state, _, line = f"{verdict.line} {cure}".partition(" ")
    if verdict.state == NOT_CHECKED:  # "within" would be read as a pass
        state, line = "Not fully checked.", verdict.line
    return render(
        "verdict",
        name=name,
        market=f"for {blend.market}",
        state=state,
        line=line,
        kind=verdict.state,
        used=_drawn(verdict),
        held=held and _drawn(held),
    )


def _drawn(verdict: Verdict) -> float | None:
    """Length of the meter's bar, in percent of the meter; its limit lies at two thirds."""
    return verdict.closest and round(min(verdict.closest[1] / _METER_ENDS, 1.0) * 100, 1)


def no_verdict(name: str) -> str:
    """As `verdict_line`, for a bottle without an oil."""
    empty = {"market": "", "state": "", "kind": "empty", "used": None}
    return render("verdict", name=name or NO_NAME, line="No oil yet.", **empty)


def note(text: str) -> str:
    """A faint paragraph."""
    return render("note", text=text)
