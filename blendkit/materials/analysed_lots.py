"""An analysed lot as an oil: a shipped oil with what the maker's analysis says of it."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import is_positive_number
from blendkit.materials.analyses import MOST_PERCENT, Analysis
from blendkit.materials.catalogue import OWN_MARK, Oil, Share, largest_first, shipped_oil
from blendkit.materials.constituents import constituent


def as_document(analysis: Analysis) -> dict[str, Any]:
    """An analysis as it is kept, with all that `own_oil` reads."""
    document: dict[str, Any] = {
        "percents": {
            constituent_id: [amount.low, amount.typical, amount.high]
            for constituent_id, amount in analysis.amounts.items()
        },
        "unmatched": {
            f"{text} {analysis.unmatched_cas.get(text, '')}".strip(): amount.typical
            for text, amount in analysis.unmatched.items()
        },
    }
    if not analysis.is_whole:  # a reporting limit is in the amounts, and none of the others'
        return document | {"whole": False}
    if analysis.reporting_limit is not None:
        document["reporting_limit_percent"] = analysis.reporting_limit
    return document


def own_oil(oil_id: str, lot: str, document: Mapping[str, Any]) -> Oil:
    """A shipped oil with the composition that an analysed lot has.

    Parameters
    ----------
    oil_id : str
        The shipped oil that was analysed.
    lot : str
        The supplier's lot, or any name for it.
    document : mapping
        As `as_document` writes it: "percents", low, typical and high by constituent [% by
        mass]; optionally "unmatched", amounts by name, "reporting_limit_percent", and "whole",
        False where all that is not named stays as recorded for the shipped oil.

    Raises
    ------
    BadNumber
        The lot has no name, or its shares are no composition.
    UnknownMaterial
        No such shipped oil or constituent.
    """
    shipped = shipped_oil(oil_id)
    name = " ".join(lot.split())
    if not name:
        raise BadNumber([Problem("lot", quoted(lot), "the supplier's lot, or any name for it")])
    source = f"the maker's own analysis of lot {name}"
    named = replace(
        shipped, id=f"{shipped.id}{OWN_MARK}{name}", name=f"{shipped.name}, lot {name}"
    )
    return analysed(named, document, source)


def analysed(oil: Oil, document: Mapping[str, Any], source: str) -> Oil:
    """An oil with the composition of an analysis, as `as_document` writes it.

    Raises
    ------
    BadNumber
        Its shares are no composition.
    UnknownMaterial
        No such constituent.
    """
    percents, unmatched = document.get("percents"), document.get("unmatched")
    given = percents.items() if isinstance(percents, Mapping) else ()
    shares = [_own_share(key, found, source) for key, found in given]
    is_whole = document.get("whole", True) is not False
    total = sum(share.typical for share in shares)
    is_something = total > 0 or (shares and not is_whole)
    if not is_something or total > MOST_PERCENT / 100 + 1e-9:
        needed = f"more than nothing and at most {MOST_PERCENT:g} %"
        raise BadNumber([Problem("sum of the shares", f"{total * 100:g} %", needed)])
    percent = document.get("reporting_limit_percent")
    # not stated, or nonsense: silence then counts in full
    limit = percent / 100 if is_positive_number(percent) and percent <= 100 else None
    rest = [] if is_whole else _rest_on_record(oil, shares)
    return replace(
        oil,
        composition_known=is_whole or oil.composition_known,
        composition=largest_first([*shares, *rest]),
        recorded=frozenset(share.constituent for share in rest),
        reporting_limit=limit,
        unmatched=tuple(map(str, unmatched)) if isinstance(unmatched, Mapping) else (),
    )


def _rest_on_record(oil: Oil, own: Sequence[Share]) -> list[Share]:
    """Recorded shares that a certificate does not name, their high ends as they are.

    Where they do not fit next to what it names, low and typical shrink in proportion.
    """
    named = {share.constituent for share in own}
    rest = [share for share in oil.composition if share.constituent not in named]
    room = max(0.0, 1.0 - sum(share.typical for share in own))
    part = min(1.0, room / (sum(share.typical for share in rest) or 1.0))
    return [replace(s, low=s.low * part, typical=s.typical * part) for s in rest]


def _own_share(constituent_id: str, percents: Any, source: str) -> Share:
    known = constituent(constituent_id).id
    try:
        low, typical, high = percents
        sound = 0 <= low <= typical <= high <= MOST_PERCENT  # nor does NaN come in here
    except (TypeError, ValueError):
        sound = False
    if not sound:
        needed = f"low, typical and high, from 0 to {MOST_PERCENT:g} %"
        raise BadNumber([Problem(f"share of {known}", quoted(percents), needed)])
    return Share(known, low / 100, typical / 100, high / 100, source, "read")
