"""Plain words: the list of those that may not come back (DEVELOPERS.md, "Words").

Counted in everything that people read or that names something: code with its docstrings, page
templates and scripts, notebooks, and the guides. A word that is on the list counts as often as
`STILL_THERE` allows; that number may be lowered and never raised.
"""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).resolve().parents[2]
READ = ("*.py", "*.html", "*.js", "*.css", "*.md", "*.ipynb")
STILL_THERE = {
    "a slip": 0,
    "anew": 3,
    "astray": 0,
    "below nothing": 0,
    "beside": 28,
    "dearest": 0,
    "dressed": 0,
    "drops got": 0,
    "fell in": 0,
    "fetch another": 0,
    "go on with": 0,
    "heed": 15,
    "let it go": 0,
    "make a kept blend": 0,
    "may cost": 0,
    "oils mixed ahead": 0,
    "parted": 0,
    "ranges count": 0,
    "reckoned": 0,
    "so many bottles": 0,
    "so much was lost": 0,
    "stands": 13,
    "told": 10,
    "turned round": 2,
    "the second version": 2,
    "unmeant": 0,
    "what binds": 0,
    "what is said": 0,
    "wished": 0,
    "worked out": 0,
}


def pattern(words: str) -> re.Pattern[str]:
    """A word alone or as part of a name; words of a phrase may be on two lines."""
    gap = r"[\s#*_]+"
    return re.compile(f"(?<![a-z]){gap.join(words.split())}(?![a-z])", re.IGNORECASE)


def texts() -> dict[str, str]:
    folders = [REPOSITORY / name for name in ("blendkit", "notebooks")]
    files = [file for folder in folders for kind in READ for file in folder.rglob(kind)]
    files = [file for file in files if not file.name.endswith(".min.js")]
    found = {str(file.relative_to(REPOSITORY)): file for file in files}
    texts = {name: file.read_text(encoding="utf-8") for name, file in found.items()}
    return texts | {"README.md": (REPOSITORY / "README.md").read_text(encoding="utf-8")}


@pytest.mark.parametrize("words", STILL_THERE)
def test_a_word_that_was_given_up_does_not_come_back(words):
    wanted = pattern(words)
    counts = Counter({name: len(wanted.findall(text)) for name, text in texts().items()})
    found = counts.total()
    where = ", ".join(f"{name} ({n})" for name, n in counts.most_common(8) if n)
    assert found <= STILL_THERE[words], f'"{words}" {found} times: {where}'


def test_words_are_found_in_prose_and_in_names():
    text = "def wished_ratio(): '''Worked\n    out anew.'''  # unwished, Wished"
    assert len(pattern("wished").findall(text)) == 2
    assert len(pattern("worked out").findall(text)) == 1
    assert len(pattern("anew").findall(text)) == 1
    assert not pattern("parted").findall("it departed; parted_ways".replace("parted_ways", ""))
