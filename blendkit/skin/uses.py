"""As what a product is judged: the use in words, and the places it is not offered for."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

from blendkit.blend.market import Market
from blendkit.foundation import data
from blendkit.foundation.errors import BadNumber, Problem, near_miss, quoted


def judged_as(market: Market) -> str:
    """Region, category and places that a product is judged for, in a sentence."""
    row = _uses()[market.use]
    return (
        f"Judged for {market.place} as {row['ifra_category']}, {row['eu_scope']}: "
        f"{row['worn_on']}; not {row['not_for']}."
    )


def use_options() -> list[tuple[str, str]]:
    """Each use in words a maker knows, with its key."""
    return [(row["name"], use) for use, row in _uses().items()]


def places_in_words(market: Market) -> list[str]:
    """Where a product of this use may be worn, what its label says, and what is refused."""
    row = _uses()[market.use]
    return [
        f"For {row['worn_on']}.",
        f"On a label this use goes by: {row['label_words'].replace('; ', ', ')}.",
        *(f"Not offered for {place}: {reason}." for place, reason in _refused().items()),
    ]


def refused_places() -> tuple[str, ...]:
    """Places and wearers that no use on record is offered for."""
    return tuple(_refused())


def check_place(place: str, market: Market) -> None:
    """Refuse a place or wearer that a use is not offered for.

    Raises
    ------
    BadNumber
        With the reason; for a place that is not on record too, since nothing judges it.
    """
    name = place.strip().lower()
    offered = {use: places_in(row["worn_on"]) for use, row in _uses().items()}
    if name in offered[market.use]:
        return
    needed = "one of " + ", ".join(offered[market.use])
    hint = near_miss(name, offered[market.use])
    others = [use for use, places in offered.items() if name in places]
    if reason := _refused().get(name):
        needed, hint = "another place", f"Not offered: {reason}."
    elif others:
        needed, hint = f"the use {others[0]}", "Its limits are others: choose that use."
    raise BadNumber([Problem("worn on", quoted(place), needed, hint)])


def places_in(text: str) -> list[str]:
    """The places of a list such as "pulse points (wrists, neck)"."""
    return [word.strip() for word in re.split(r"[(),]", text) if word.strip()]


def contradictions(identity: str, market: Market) -> Iterator[str]:
    """Conflicts between a label's words and the use that is judged, in sentences."""
    words = identity.lower()
    for use, row in _uses().items():
        named = [word for word in row["label_words"].split("; ") if word in words]
        if named and use != market.use:
            yield (
                f"The label says {quoted(identity)}, but the skin check judged a {market.use}: "
                f"choose the use {quoted(use)}, or leave out {quoted(named[0])}."
            )


@cache
def _uses() -> dict[str, dict[str, str]]:
    rows = data.table("uses").to_dict("records")
    return {row["use"]: {str(key): str(value) for key, value in row.items()} for row in rows}


@cache
def _refused() -> dict[str, str]:
    rows = data.table("refused_uses").to_dict("records")
    return {row["place"]: f"{row['reason']} ({row['source']})" for row in rows}
