"""Region of sale and use of the product: what decides which skin limits apply."""

from __future__ import annotations

from dataclasses import asdict, dataclass

from blendkit.foundation import data
from blendkit.foundation.errors import Problem, near_miss, quoted, refuse_any, text_of


@dataclass(frozen=True)
class Market:
    """Region where a product is sold or worn, and its use.

    Parameters
    ----------
    region : str, optional
        One of `regions`.
    use : str, optional
        One of `uses`: "perfume oil", or "body oil" for what is sold to be rubbed in, which is
        stricter.

    Raises
    ------
    BadNumber
        Lists both choices where they are not known, with the nearest that is, or with the
        reason why no use is offered for a place or wearer such as "lips".

    Examples
    --------
    >>> Market().with_(region="UK")
    Market(region='UK', use='perfume oil')
    """

    region: str = "EU"
    use: str = "perfume oil"

    def __post_init__(self) -> None:
        choices = (("region", self.region, regions()), ("use", self.use, uses()))
        refuse_any(
            Problem(name, quoted(got), "one of " + ", ".join(known), _hint(got, known))
            for name, got, known in choices
            if got not in known
        )

    def __str__(self) -> str:
        return f"{self.place} as a {self.use}"

    @property
    def place(self) -> str:
        """The region in words, such as "the EU"."""
        return self._of_region("name")

    def with_(self, region: str | None = None, use: str | None = None) -> Market:
        """The market with another region, another use, or both."""
        return Market(
            self.region if region is None else region, self.use if use is None else use
        )

    def to_dict(self) -> dict[str, str]:
        """The market as it is written in a blend document."""
        return asdict(self)

    def key(self) -> dict[str, dict[str, str]]:
        """The market with its key, for a document; empty for the default."""
        return {} if self == Market() else {"market": self.to_dict()}

    @property
    def rule_sets(self) -> tuple[str, ...]:
        """The laws and standards that decide in the region."""
        return tuple(self._of_region("rule_sets").split("; "))

    @property
    def note(self) -> str:
        """Coverage of the rules on record for the region, in one or two sentences."""
        return self._of_region("note")

    def _of_region(self, heading: str) -> str:
        return str(data.table("regions").set_index("region").at[self.region, heading])


def _hint(got: object, known: tuple[str, ...]) -> str:
    words = text_of(got).lower()
    for place, reason in not_offered().items():
        if place.removesuffix("s").removesuffix("ie") in words:  # "lip balm", "baby oil"
            return f"Not offered for {place}: {reason}."
    return near_miss(got, known)


def not_offered() -> dict[str, str]:
    """Reasons with their sources, by the place or wearer that no use is offered for."""
    rows = data.rows("refused_uses")
    return {row["place"]: f"{row['reason']} ({row['source']})" for row in rows}


def regions() -> tuple[str, ...]:
    """Regions on record, in the order of `data/regions.csv`."""
    return tuple(data.table("regions")["region"])


def uses() -> tuple[str, ...]:
    """Uses on record, in the order of `data/uses.csv`."""
    return tuple(data.table("uses")["use"])
