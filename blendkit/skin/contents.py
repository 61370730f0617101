"""Content of a group of constituents in an oil: high end and typical.

Silence is never zero: a constituent that the shipped oil can hold and that an own lot's
analysis does not name counts, at the high end, as the highest content on record for that oil.
"""

from collections.abc import Iterator
from collections.abc import Set as AbstractSet
from typing import NamedTuple

from blendkit.materials import catalogue
from blendkit.materials.catalogue import Oil, Share
from blendkit.materials.constituents import constituent
from blendkit.skin.limits import KIND, NOT_FOUND, OLD_BOUND, RANGE, SILENT, Doubt, weakest


class Content(NamedTuple):
    """Content of a group of constituents in an oil.

    Attributes
    ----------
    fraction, typical : float
        By mass, at the high end and by typical figures. [-]
    grade : str
        The weakest of the figures added up.
    doubts : tuple of Doubt
        Why the two differ, constituent by constituent.
    """

    fraction: float
    typical: float
    grade: str
    doubts: tuple[Doubt, ...]


def content_in(oil: Oil, members: AbstractSet[str]) -> Content | None:
    """Content of some constituents in an oil, added up.

    Parameters
    ----------
    oil : Oil
        A shipped oil, or a maker's own lot.
    members : set of str
        Ids of the constituents to add up.

    Returns
    -------
    Content or None
        None where no figure is on record, which does not mean that there is none of it.

    Notes
    -----
    Where a lot's analysis states its reporting limit, a volatile constituent that it does not
    name counts at most at that limit. Others (bergapten, say) escape the usual analysis and
    count in full. The id of an oil whose kind is unknown holds the highest of its kinds, so
    its lots do too. A certificate of some constituents only leaves the others as on record.
    """
    own = tuple(share for share in oil.composition if share.constituent in members)
    silent = tuple(_silent(oil, members))
    if not own and not silent:
        return None
    high, typical = sum(share.high for share in own), sum(share.settled for share in own)
    doubts = [_doubt(oil, share) for share in own if share.high > share.settled]
    for share, most in silent:
        high += most
        doubts.append(Doubt(constituent(share.constituent).name, SILENT, most))
    grade = weakest(share.grade for share in (*own, *(share for share, _ in silent)))
    return Content(high, typical, grade, tuple(doubts))


def _silent(oil: Oil, members: AbstractSet[str]) -> Iterator[tuple[Share, float]]:
    """Constituents that a lot's analysis does not name, each with its highest content. [-]"""
    if oil.id == oil.based_on:
        return
    # found none, with no limit of detection stated, says no more than silence
    named = oil.analysed | oil.recorded
    for share in catalogue.oil(oil.based_on).composition:
        if share.constituent in members and share.constituent not in named and share.high > 0:
            most, limit = share.high, oil.reporting_limit
            if limit is not None and constituent(share.constituent).is_volatile:
                most = min(most, limit)
            yield share, most


def _doubt(oil: Oil, share: Share) -> Doubt:
    is_analysed = share.constituent in oil.analysed
    why = RANGE
    if share.is_old_bound:
        why = OLD_BOUND
    elif oil.kind_unknown and not is_analysed:
        why = KIND
    elif is_analysed and share.typical == 0:
        why = NOT_FOUND
    return Doubt(constituent(share.constituent).name, why, share.high - share.settled)
