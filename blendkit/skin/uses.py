"""As what a product is judged: the use in words, and the places it is not offered for."""

from collections.abc import Iterator
from functools import cache

from blendkit.blend.market import Market, not_offered
from blendkit.foundation import data
from blendkit.foundation.errors import quoted


def judged_as(market: Market) -> str:
    """Region, category and places that a product is judged for, in a sentence."""
    row = _uses()[market.use]
    return (
        f"Judged for {market.place} as {row['ifra_category']}, {row['eu_scope']}: "
        f"{row['worn_on']}; not {row['not_for']}."
    )


def use_options() -> list[tuple[str, str]]:
    """Each use in words a maker knows, with its key; then what `Market` refuses, and why."""
    offered = [(row["name"], use) for use, row in _uses().items()]
    return [*offered, *((f"Not offered: {place}", place) for place in not_offered())]


def places_in_words(market: Market) -> list[str]:
    """Where a product of this use may be worn, what its label says, and what is refused."""
    row = _uses()[market.use]
    return [
        f"For {row['worn_on']}.",
        f"On a label this use goes by: {row['label_words'].replace('; ', ', ')}.",
        *(f"Not offered for {place}: {reason}." for place, reason in not_offered().items()),
    ]


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
    return {row["use"]: row for row in data.rows("uses")}
