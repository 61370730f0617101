"""The guides are true: every path they name exists, and the developers' guide stays short."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).resolve().parents[2]
GUIDES = ("DEVELOPERS.md", "tests/README.md")
MOST_BYTES = 15_000
PATH = re.compile(
    r"(?:blendkit|tests|data|notebooks|\.ci)/[\w./-]*\w/?|[\w./-]+\.(?:md|toml)\b"
)
MODULE = re.compile(r"-m (tests(?:\.\w+)+)")


def text_of(guide: str) -> str:
    return (REPOSITORY / guide).read_text(encoding="utf-8")


def journey(text: str) -> list[str]:
    """The files of the journey that is drawn, each from the package's folder."""
    drawn = text.split("### One journey")[1].split("```")[1]
    return [line.split()[0] for line in drawn.strip().splitlines()]


def rooms(text: str) -> list[str]:
    """The rooms of the map."""
    drawn = text.split("## The map")[1].split("```")[1]
    return re.findall(r"^  (\w+)/ ", drawn, flags=re.MULTILINE)


@pytest.mark.parametrize("guide", GUIDES)
def test_every_path_that_a_guide_names_exists(guide):
    text = text_of(guide)
    named = set(PATH.findall(text)) | {
        name.replace(".", "/") + ".py" for name in MODULE.findall(text)
    }
    assert len(named) > 15
    near = (REPOSITORY, (REPOSITORY / guide).parent)
    assert not [path for path in sorted(named) if not any((at / path).exists() for at in near)]


def test_the_journey_and_the_map_are_those_of_the_package():
    text = text_of("DEVELOPERS.md")
    files = journey(text)
    assert len(files) > 8
    assert not [name for name in files if not (REPOSITORY / "blendkit" / name).is_file()]
    here = {file.parent.name for file in (REPOSITORY / "blendkit").glob("*/__init__.py")}
    assert set(rooms(text)) == here


def test_a_path_that_is_gone_would_be_found():
    assert PATH.findall("see `blendkit/gone.py`, `tests/none/` and `NOWHERE.md`") == [
        "blendkit/gone.py",
        "tests/none/",
        "NOWHERE.md",
    ]


def test_the_guide_for_developers_can_be_read_at_one_sitting():
    assert len(text_of("DEVELOPERS.md").encode()) <= MOST_BYTES


@pytest.mark.parametrize("name", ["check", "run"])
def test_commands_of_the_guide_can_be_run(name):
    assert (REPOSITORY / ".ci" / name).stat().st_mode & 0o111
