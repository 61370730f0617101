"""The seats of a class: their names, and pass phrases of which only a fingerprint is kept.

Every seat has a pass phrase of its own, drawn at random and printed on a card. With one for
the whole class, each learner could sign in at every other one's seat.
"""

import hashlib
import hmac
import json
import secrets
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import NamedTuple

from blendkit.foundation.errors import (
    BadNumber,
    BlendkitError,
    Problem,
    near_miss,
    quoted,
    refuse_any,
)
from blendkit.foundation.units import is_whole_number
from blendkit.foundation.whole_files import write_text
from blendkit.teaching.class_reader import MOST_SEATS

_FILE = "seats.json"
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that look like another one in print
_GROUPS = (4, 4, 4)  # characters in each; 31**12 phrases, 59 bits
_HARD = {"n": 2**14, "r": 8, "p": 1}  # 16 MiB and some 50 ms a try (RFC 7914)


class BadSeats(BlendkitError):
    """The file of seats cannot be read or written."""


class SeatCard(NamedTuple):
    """A learner's card; its phrase is nowhere else."""

    seat: str
    phrase: str


def seat_names(count: object) -> list[str]:
    """The names of a number of seats, such as "seat-01".

    Raises
    ------
    BadNumber
        No whole number from 1 to `MOST_SEATS`.
    """
    if not is_whole_number(count, 1, MOST_SEATS):
        needed = f"a whole number from 1 to {MOST_SEATS}"
        fix = "A hub for more people than that is not run on one machine."
        raise BadNumber([Problem("seats", quoted(count), needed, fix)])
    return [f"seat-{number:02d}" for number in range(1, count + 1)]


def new_cards(seats: Iterable[str]) -> list[SeatCard]:
    """A card with a fresh pass phrase for each seat."""
    return [SeatCard(seat, _phrase()) for seat in seats]


def _phrase() -> str:
    groups = ("".join(secrets.choice(_LETTERS) for _ in range(length)) for length in _GROUPS)
    return "-".join(groups)


def keep_seats(folder: Path, cards: Iterable[SeatCard], kept: Mapping[str, str]) -> None:
    """Write the fingerprints of all seats, new ones over those of the same name.

    Parameters
    ----------
    folder : Path
        Readable to nobody else.
    cards : iterable of SeatCard
        The seats that get a new pass phrase.
    kept : mapping of str to str
        Fingerprints of the others, as `read_seats` gives them.
    """
    marks = {**kept, **{card.seat: _fingerprint(card.phrase) for card in cards}}
    write_text(folder / _FILE, json.dumps(marks, indent=1))


def read_seats(folder: Path) -> dict[str, str]:
    """Read the fingerprints of the pass phrases, by seat; empty before the first class.

    Raises
    ------
    BadSeats
        The file is there and cannot be read.
    """
    file = folder / _FILE
    try:
        marks = json.loads(file.read_text(encoding="utf-8"))
        return {str(seat): str(mark) for seat, mark in marks.items()}
    except FileNotFoundError:
        return {}
    except (OSError, ValueError, AttributeError) as error:
        message = f"{file}: got a file that cannot be read ({error}); needs the list of seats."
        raise BadSeats(f"{message} Remove it, and new cards are made.") from error


def check_seats(names: Iterable[str], seats: Iterable[str]) -> list[str]:
    """Check that names are seats, and return them.

    Raises
    ------
    BadNumber
        Lists every name that is none, with the nearest that is.
    """
    asked, known = list(names), list(seats)
    problems = [
        Problem("renew", quoted(name), "the name of a seat", near_miss(name, known))
        for name in asked
        if name not in known
    ]
    refuse_any(problems)
    return asked


def verify_phrase(seat: str, phrase: str, kept: Mapping[str, str]) -> bool:
    """True where a pass phrase opens a seat; as slow for a seat that does not exist."""
    mark = kept.get(seat, _NOBODY)
    salt, _, wanted = mark.partition("$")
    got = _hash(phrase, salt)
    return hmac.compare_digest(got, wanted) and seat in kept


def _fingerprint(phrase: str) -> str:
    salt = secrets.token_hex(16)
    return f"{salt}${_hash(phrase, salt)}"


def _hash(phrase: str, salt: str) -> str:
    plain = phrase.strip().lower().encode("utf-8", "replace")[:200]
    return hashlib.scrypt(plain, salt=salt.encode(), dklen=32, **_HARD).hex()


_NOBODY = f"{'0' * 32}${'0' * 64}"
