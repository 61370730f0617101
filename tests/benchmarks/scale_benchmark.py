"""How the main calls grow with the maker's folder: palette, kept blends, journal events.

Run by hand: ``python -m tests.benchmarks.scale_benchmark [SIZE …]``. Invented folders of 1/8 to
all of `FULL`, or those given; the least time of each call on the processor, the exponent of its
growth (1: in step with the folder), and its least time on the wall in the last folder.
"""

import math
import os
import random
import sys
import tempfile
from datetime import UTC, datetime
from functools import partial

from blendkit import panels
from blendkit.batch.packs import read_packs, shopping_list
from blendkit.batch.scaling import scale
from blendkit.batch.stock import missing, uses_of
from blendkit.batch.weighing import check_skin
from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.fading import hours_until
from blendkit.evaporation.forecast import forecast
from blendkit.evaporation.nose_log import learn
from blendkit.evaporation.wear import film_of
from blendkit.journal.records import BatchMaterial, BatchRow, EventRow, Session, Version
from blendkit.journal.store import open_journal
from blendkit.keeping.nose_logs import keep_log, kept_logs
from blendkit.keeping.open_store import let_go
from blendkit.keeping.stock_entries import buy, count, current_stock
from blendkit.keeping.versions import keep_version, kept_versions
from blendkit.making.bench_events import Drops, SavedAs, Start, as_document, event_of
from blendkit.making.bench_log import Bench
from blendkit.materials.search import all_oils
from blendkit.showing.shelf import fragments
from blendkit.showing.shelf.rows import volatility_rows
from blendkit.skin.check import findings_in
from blendkit.skin.reformulation import reformulate
from tests.benchmarks.film_benchmark import best
from tests.benchmarks.reformulation_benchmark import CARRIERS

FULL = {"oils": 60, "blends": 500, "events": 10_000, "wearings": 60}
SIZES, SECONDS, AT = (1 / 8, 1 / 4, 1 / 2, 1.0), 20, datetime(2026, 11, 25, 18, 30, tzinfo=UTC)
PALETTE = random.Random(7).sample(all_oils(), FULL["oils"])
SMELLS = [{"group": "whole", "minutes": 40 * n, "what": 9 - n} for n in (1, 3, 5)]
PANELS = ("shelf", "first_bottle", "make_and_keep", "make_more", "teach")


def blend_of(oils, name, bottle):
    parts = [{"id": oil.id, "parts": 1 + len(oil.id) % 3} for oil in oils]
    notes = dict.fromkeys(sorted({oil.note for oil in oils}), 1)
    words = {"name": f"{name} (invented)", "bottle": bottle, "strength": "20 %"}
    return Blend.from_dict({**words, "note_parts": notes, "oils": parts, "carriers": CARRIERS})


def keep(journal, blend, events):
    """A blend kept and made, with its session at the bench, tapped drop by drop."""
    plan, at, portions = blend.to_dict(), {"happened_at": AT}, blend.bottle.portions
    version = journal.new_blend(blend.name, plan, at=AT)
    batch = BatchRow(version_id=version.id, lot=f"lot of {blend.name}", made_on=AT.date())
    used = [BatchMaterial(batch_id="", material=p.material, mass_g=1.0) for p in portions]
    batch = journal.make_batch(batch, [(1, 10.0)], used)
    session = journal.start_session(blend.name, version.id, batch.id)
    taps = [Drops(portions[n % 6].material, 1 + n % 3) for n in range(events - 2)]
    for kind, details in map(as_document, (Start(plan), *taps, SavedAs(blend.name, 1))):
        yield EventRow(session_id=session.id, kind=kind, details=details, **at)


def fill_folder(size):
    """Bottles on the shelf, blends kept and made, and some of them worn."""
    many, dice = {name: round(whole * size) for name, whole in FULL.items()}, random.Random(7)
    with open_journal() as journal:
        for oil in PALETTE[: many["oils"]]:
            buy(journal, oil.id, "10 mL", price=9.5, currency="EUR", bottles=2)
            count(journal, oil.id, "6.5 mL")
        for number in range(many["blends"]):
            oils = dice.sample(PALETTE[: many["oils"]], 6)
            blend = blend_of(oils, f"Quay {number}", "10 mL")
            journal.add(*keep(journal, blend, many["events"] // many["blends"]))
            if number < many["wearings"]:
                keep_log(journal, {"blend": blend.to_dict(), "smells": SMELLS}, AT)


def calls(size):
    """The main calls by name, on the folder that stands."""
    journal, oils = open_journal(), PALETTE[: round(FULL["oils"] * size)]
    kept, session = kept_versions(journal), journal.all(Session)[-1].id
    whole, twelve = blend_of(oils, "All", "100 mL"), blend_of(PALETTE[:12], "Some", "30 mL")
    film, small = (film_of(blend.bottle, Conditions()) for blend in (whole, twelve))
    sold = [{"material": oil.id, "size": f"{ml} mL", "price": ml + 2.5, "currency": "EUR"}
            for oil in oils for ml in (5, 10, 30)]  # fmt: skip
    events, day = lambda: journal.all(EventRow, session_id=session), hours_until(12)
    left, made = lambda: current_stock(journal), lambda: scale(whole, "12 × 100 mL")

    def opened(panel):
        let_go()
        getattr(panels, panel)(*([] if panel in ("shelf", "teach") else [whole.to_dict()]))

    return {
        "open the journal": lambda: open_journal().close(),
        "list kept blends": lambda: kept_versions(journal),
        "open one": lambda: journal.get(Version, kept[0].version.id) and kept[0].blend(),
        "keep one again": lambda: keep_version(journal, kept[-1].blend()),
        "read a session": lambda: Bench.of(event_of(e.kind, e.details) for e in events()),
        "read every event": lambda: journal.all(EventRow),
        "clock from all wearings": lambda: learn(kept_logs(journal)),
        "shelf, less what batches used": left,
        "palette and its rows": lambda: (fragments.oil_list(oils), volatility_rows(oils)),
        "drops": lambda: Blend.from_dict(whole.to_dict()).bottle,
        "skin check": lambda: findings_in(whole.bottle),
        "skin check, 12 oils": lambda: findings_in(twelve.bottle),
        "fade with band": lambda: forecast(film, day, 256).band(),
        "fade with band, 12 oils": lambda: forecast(small, day, 256).band(),
        "nearest blend": lambda: reformulate(whole),
        "nearest blend, 12 oils": lambda: reformulate(twelve),
        "12 bottles and their check": lambda: check_skin(made().weighings, whole),
        "shopping": lambda: shopping_list(missing(uses_of(made()), left()), read_packs(sold)),
        **{f"panel {name}": partial(opened, name) for name in PANELS},
    }


def main(sizes):
    found = {}
    for size in sizes:
        with tempfile.TemporaryDirectory() as folder:
            os.environ["BLENDKIT_HOME"] = folder
            fill_folder(size)
            for name, times in best(calls(size), SECONDS).items():
                found.setdefault(name, []).append(times)
    print(f"processor seconds; 1 is {FULL}; load {os.getloadavg()[0]:.1f}")
    print(" " * 30, *map("{:>9}".format, (*sizes, "grows", "wall")))
    for name, times in found.items():
        least, wall = [each[0] for each in times], times[-1][1]
        grows = math.log(least[-1] / least[0]) / (math.log(sizes[-1] / sizes[0]) or math.nan)
        print(f"{name:30}", *map("{:9.4f}".format, (*least, grows, wall)))


if __name__ == "__main__":
    main(tuple(map(float, sys.argv[1:])) or SIZES)
