"""Power cuts, played through call by call: every acknowledged row is there afterwards."""

from __future__ import annotations

import random
import shutil
import sqlite3
import subprocess
from contextlib import closing

import pytest

from blendkit.journal.backups import FILE
from blendkit.journal.store import open_journal
from tests.tools.power_cut import Played, trace

TAPS, CUTS = 25, 60
pytestmark = pytest.mark.skipif(
    shutil.which("strace") is None
    or subprocess.run(["strace", "-o", "/dev/null", "true"], check=False).returncode != 0,
    reason="NO STRACE: power cuts were not played through",
)


@pytest.fixture(scope="module")
def traced(tmp_path_factory):
    """A home before some taps, and the calls that the taps made."""
    folder = tmp_path_factory.mktemp("traced")
    home = folder / "home"
    with open_journal(home) as journal:
        journal.start_session("invented")
    before = folder / "before"
    shutil.copytree(home, before)
    return home, before, trace(home, TAPS, folder)


def moments(traced, is_flushing):
    """Acknowledged rows, and those found after a power cut, at moments by chance."""
    home, before, lines = traced
    chance = random.Random(11)
    begin = next(place for place, line in enumerate(lines) if r"\x62\x65\x67\x75\x6e" in line)
    whens = set(chance.sample(range(begin, len(lines)), CUTS))
    # files of the folder before, under the names that the calls have
    played = Played(before, is_flushing)
    for names in (played.files, played.names):
        for name in list(names):
            names[name.replace(str(before), str(home))] = names.pop(name)
    played.home = str(home)
    for place, line in enumerate(lines):
        played.play(line)
        if place in whens:
            target = before.parent / f"after {place} {is_flushing}"
            played.cut(chance, target)
            yield set(played.acknowledged), target
            shutil.rmtree(target)
    assert len(played.acknowledged) == TAPS + TAPS // 5
    assert played.flushes > 4 * TAPS


def held(folder):
    select = "SELECT id FROM events UNION ALL SELECT id FROM versions"
    with closing(sqlite3.connect(folder / FILE)) as connection:
        return {id for (id,) in connection.execute(select)}


def test_a_power_cut_loses_no_acknowledged_row(traced):
    most = 0
    for acknowledged, folder in moments(traced, is_flushing=True):
        open_journal(folder).close()  # sound, with its integrity check
        assert acknowledged <= held(folder)
        assert len(held(folder)) <= len(acknowledged) + 1
        most = max(most, len(acknowledged))
    assert most > TAPS / 2


def test_the_same_without_flushes_loses_rows(traced):
    """Else the test above could not fail."""
    lost = 0
    for acknowledged, folder in moments(traced, is_flushing=False):
        try:
            lost += not acknowledged <= held(folder)
        except sqlite3.DatabaseError:
            lost += 1
    assert lost > CUTS / 4
