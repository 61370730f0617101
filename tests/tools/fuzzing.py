"""What the tests share that throw anything at a door: how much of it, and what came of it.

A door takes what somebody sent. It says False where it was refused in the package's own words;
what passed goes all the way that panels take it, and nothing may break there.

`BLENDKIT_FUZZ` sets how many examples a test draws where the usual run takes few.
"""

from __future__ import annotations

import contextlib
import copy
import json
import math
import os
import random
import re
from collections import Counter
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

from hypothesis import settings

import blendkit as bk
from blendkit.journal.merge import import_journal
from blendkit.journal.records import KINDS, BatchRow, Session, Version
from blendkit.journal.store import Journal, open_journal  # noqa: F401 - offered here as well
from blendkit.journal.unpacking import BadExchange
from blendkit.keeping.details import kept_classes, kept_maker, kept_packs
from blendkit.keeping.nose_logs import kept_logs
from blendkit.keeping.stock_entries import current_stock
from blendkit.keeping.versions import kept_versions
from blendkit.materials.analyses import BadAnalysis, read_analysis

GIVEN = os.environ.get("BLENDKIT_FUZZ")


def drawing(usual: int) -> settings:
    """How many examples are drawn: as many as usual, or as `BLENDKIT_FUZZ` says."""
    return settings(max_examples=int(GIVEN or usual))


@contextlib.contextmanager
def both_happen(door: str) -> Iterator[Counter[str]]:
    """Count results and refusals of a door; a test that saw only one kind shows nothing."""
    seen: Counter[str] = Counter(result=0, refusal=0)
    yield seen
    print(f"{door}: {seen['result']} results, {seen['refusal']} refusals")  # noqa: T201 - for -rP
    assert seen["result"]
    assert seen["refusal"]


def spoilt(good: Any, seed: int, value: Any) -> Any:
    """A copy of a good document, changed in one to three places.

    Half the changes put in the value; the others something like what stood there, since a
    document full of nonsense never gets past the door.
    """
    chance, document = random.Random(seed), copy.deepcopy(good)
    for _ in range(chance.randint(1, 3)):
        place = document
        while isinstance(place, dict | list) and place:
            key = chance.choice(list(place) if isinstance(place, dict) else range(len(place)))
            there = place[key]
            if not isinstance(there, dict | list) or chance.random() < 0.3:
                new = value if chance.random() < 0.5 else _like(there, chance)
                place[key] = copy.deepcopy(new)
                break
            place = there
    return document


def _like(there: Any, chance: random.Random) -> Any:
    if isinstance(there, bool):
        return not there
    if isinstance(there, int | float):
        return chance.choice((0, 1, 2, 3, 7.25, 12, 40, 1e-9, 1e9))
    if isinstance(there, str):
        return re.sub(r"[0-9]+", lambda _: str(chance.randint(0, 99)), there)
    if isinstance(there, list) and there:
        return chance.sample(there, chance.randint(1, len(there)))
    return there


def blend_door(document: Any, *, fade: bool = False) -> bool:
    try:
        blend = bk.Blend.from_dict(document)
    except bk.BadBlend:
        return False
    assert math.isclose(bk.drop_table(blend)["percent_by_mass"].sum(), 100, rel_tol=1e-6)
    assert not bk.skin_findings(blend).empty
    assert bk.label_allergens(blend)["percent"].ge(0).all()
    json.dumps(blend.to_dict())
    if fade:  # costs most
        # base may rise at first
        assert bk.fade(blend)["strength"].between(0, 100).all()
    return True


def analysis_door(file: Path) -> bool:
    try:
        found = read_analysis(file)
    except BadAnalysis:
        return False
    for amount in (*found.amounts.values(), *found.unmatched.values()):
        assert 0 <= amount.low <= amount.typical <= amount.high < math.inf
    assert found.matched_percent + found.unmatched_percent <= 105
    assert str(found)
    return True


def export_door(journal: Journal, file: Path) -> bool:
    """Of an empty journal; what panels do with it afterwards, and further rows."""
    try:
        import_journal(journal, file)
    except BadExchange:
        assert not any(journal.all(kind) for kind in KINDS)
        return False
    assert not journal.find_unreadable()  # such rows were passed by
    for kept in kept_versions(journal):
        assert kept.label
        with contextlib.suppress(bk.BadBlend):
            kept.blend()
    for session in journal.all(Session):
        assert session.started_at.astimezone()
    current_stock(journal)
    kept_classes(journal)
    kept_maker(journal)
    kept_packs(journal, ("material", "size"))
    kept_logs(journal)
    for version in journal.all(Version):
        journal.new_version(version, bk.example_document())
        today = date.today()
        batch = BatchRow(version_id=version.id, lot=journal.next_lot(today), made_on=today)
        journal.make_batch(batch, [(1, 10)], [])
    return True
