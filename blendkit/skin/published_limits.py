"""The published limits and what acts in sunlight, as they stand in `data/`."""

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any, NamedTuple

from blendkit.blend.market import Market
from blendkit.foundation import data
from blendkit.skin.limits import HANDBOOK

ANY_USE = "any leave-on"


class Limit(NamedTuple):
    """One published limit, or one published condition that no percent can judge.

    Attributes
    ----------
    rule_set, scope, name, kind : str
        `kind` is "constituent", "material" or "shared".
    members : frozenset of str
        Ids of what is counted together.
    of_materials : bool
        Whether `members` are oils rather than constituents.
    ceiling : float
        Mass fraction; NaN for a condition, and where no figure is on record. [-]
    applies_to : str
        "all sources"; "added only", which judges no oil that holds the substance by nature; or
        "measured only".
    is_condition : bool
        True for a purity rule, a peroxide value and the like.
    stands_for : str
        For a limit derived from a usual content, the constituent it stands in for.
    source, grade, confirmed, remark : str
    """

    rule_set: str
    scope: str
    name: str
    kind: str
    members: frozenset[str]
    of_materials: bool
    ceiling: float
    applies_to: str
    is_condition: bool
    stands_for: str
    source: str
    grade: str
    confirmed: str
    remark: str


@cache
def published() -> tuple[Limit, ...]:
    """Every limit in use, in the order of `data/limits.csv`."""
    return tuple(_limits("yes"))


def in_force(market: Market) -> Iterator[Limit]:
    """The limits and conditions that decide, or count as advice, for a market."""
    sets, scopes = (*market.rule_sets, HANDBOOK), (market.use, ANY_USE)
    for limit in published():
        if limit.rule_set in sets and limit.scope in scopes:
            yield limit


@cache
def announced() -> Limit:
    """The furocoumarin threshold that is announced and not in force."""
    return next(
        limit for limit in _limits("no") if limit.kind == "shared" and "uro" in limit.name
    )


def _limits(used: str) -> list[Limit]:
    found = []
    for row in data.rows("limits"):
        if row["used"] != used:
            continue
        counted = [(row["subject"], row["subject_kind"])]
        if row["subject_kind"] == "shared":
            counted = [
                (member["member"], member["member_kind"])
                for member in data.rows("shared_ceilings")
                if member["ceiling"] == row["subject"] and member["rule_set"] == row["rule_set"]
            ]
        members = frozenset(name for name, _ in counted)
        of_materials = any(kind == "material" for _, kind in counted)
        found.append(
            Limit(
                row["rule_set"], row["scope"], row["subject_name"], row["subject_kind"],
                members, of_materials, row["limit_percent"] / 100, row["applies_to"],
                row["kind"] == "specification", row["stands_for"], row["source"], row["grade"],
                row["confirmed"], row["remark"],
            )
        )  # fmt: skip
    return found


@cache
def phototoxic() -> Mapping[str, dict[str, Any]]:
    """Rows on behaviour in sunlight, by shipped oil; "citrus-unknown" among them.

    "limit_percent" is NaN where none is on record, and 0 where the oil is prohibited.
    """
    return {row["material"]: row for row in data.rows("phototoxic")}
