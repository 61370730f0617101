"""Base of the records of a journal, and the marks of their fields."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, ClassVar

NOT_WRITTEN = datetime.fromtimestamp(0, UTC)


def filled() -> Any:
    """A text that may not be empty."""
    return field(metadata={"filled": True})


def among(*words: str, **options: Any) -> Any:
    """One of some words."""
    return field(metadata={"among": words}, **options)


def between(low: float, high: float = math.inf, **options: Any) -> Any:
    """A number within bounds."""
    return field(metadata={"low": low, "high": high}, **options)


@dataclass(frozen=True, kw_only=True)
class Record:
    """What every row has; the journal fills these in.

    Attributes
    ----------
    id : str
        Which thing this is about; a correction keeps it. For references.
    row : str
        This row; differs from `id` in a correction.
    turn : int
        Order of writing: greater than that of every row known when it was written.
    recorded_at : datetime
        When it was written, by this computer's clock.
    withdrawn : bool
        Whether it was said not to have happened.
    """

    TABLE: ClassVar[str]
    ONE_OF: ClassVar[tuple[str, ...]] = ()  # at least one of these is given

    id: str = ""
    row: str = ""
    turn: int = 0
    recorded_at: datetime = NOT_WRITTEN
    withdrawn: bool = False
