r"""Any text, kept exactly where not every text can stand.

SQLite keeps text as UTF-8 and its tools stop at a NUL character; a text typed or pasted can
hold one, or half of a pair that only together is a character. Such a text is stored in Python's
own ``unicode_escape`` spelling behind U+FDD0, a code point that Unicode sets aside for a
program's internal use (The Unicode Standard, section 23.7, "Noncharacters"). All other text is
stored as it is, so that any SQLite reader shows it.

A spreadsheet takes a cell that begins with ``= + - @``, a tab or a line break for a formula
(https://owasp.org/www-community/attacks/CSV_Injection), also where it splits a cell at a
semicolon or a line break that it should not have split at. There an apostrophe is put before,
and taken away again when the cell is read back. Every text comes back as it was.
"""

from __future__ import annotations

import re

_ESCAPED = "\ufdd0"
_UNSTORABLE = re.compile("[\0\ud800-\udfff]")
# At the start or after what may split a cell: blanks, apostrophes, then what starts a formula
_STARTS = r"(?:^|(?<=[;|\t\r\n]))"
_FORMULA = "(?=[=+\\-@\t\r\n＝＋－＠])"
_TO_DEFUSE = re.compile(rf"{_STARTS}( *)('*){_FORMULA}")
_DEFUSED = re.compile(rf"{_STARTS}( *)'('*){_FORMULA}")


def storable(text: str) -> str:
    r"""A text as it can stand in the file.

    Examples
    --------
    >>> storable("Dusk 💧"), as_typed(storable("half \ud83d, and \0"))
    ('Dusk 💧', 'half \ud83d, and \x00')
    """
    if text.startswith(_ESCAPED) or _UNSTORABLE.search(text):
        return _ESCAPED + text.encode("unicode_escape").decode("ascii")
    return text


def as_typed(stored: str) -> str:
    """The text that `storable` was given.

    Raises
    ------
    UnicodeError
        Nothing that `storable` writes.
    """
    if stored.startswith(_ESCAPED):
        return stored.removeprefix(_ESCAPED).encode("ascii").decode("unicode_escape")
    return stored


def defused(text: str) -> str:
    """A text as a cell that no spreadsheet takes for a formula.

    Examples
    --------
    >>> defused("=1+1"), defused("'=1+1"), defused("'tis 2-1"), defused("a;=1+1")
    ("'=1+1", "''=1+1", "'tis 2-1", "a;'=1+1")
    """
    return _TO_DEFUSE.sub(r"\1'\2", text)


def undefused(cell: str) -> str:
    """The text that `defused` was given.

    Examples
    --------
    >>> undefused("'=1+1"), undefused("'tis 2-1")
    ('=1+1', "'tis 2-1")
    """
    return _DEFUSED.sub(r"\1\2", cell)
