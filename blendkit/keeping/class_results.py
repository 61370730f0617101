"""Results of a class in the journal: each seat's bottle as a version and a batch of its own."""

from collections.abc import Mapping, Sequence
from datetime import date

from blendkit.foundation.units import ML_PER_M3
from blendkit.journal.records import MADE_IN_CLASS, BatchMaterial, BatchRow
from blendkit.journal.store import Journal
from blendkit.keeping.versions import keep_version
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.results import SeatBottle


def keep_bottles(
    journal: Journal,
    plan: ClassPlan,
    bottles: Sequence[SeatBottle],
    made_on: date,
    left_out: Mapping[str, Sequence[str]] | None = None,
    *,
    says_seat: bool = False,
) -> dict[str, str]:
    """Keep each bottle as a version of a blend of its own, and as a batch of one.

    The lots by seat; empty where the same bottle was kept before.

    What a bottle has of `left_out`, names by seat of what that seat leaves out, goes into the
    reason of its version; why a seat leaves something out does not. With `says_seat` the
    reason names the seat, which then has to be a number.

    Raises
    ------
    CannotJournal
        What was kept before it stays kept; pressing again goes on from there.
    """
    lots: dict[str, str] = {}
    for bottle in bottles:
        has = ", ".join((left_out or {}).get(bottle.seat, ()))
        seat = f", {bottle.seat}" * says_seat
        of_seat = f"; has {has}, left out by this seat" * bool(has)
        why = f"{MADE_IN_CLASS}{plan.name}{seat}{of_seat}"
        version, is_new = keep_version(journal, bottle.blend, why)
        if not is_new and journal.count(BatchRow, version_id=version.version.id):
            lots[bottle.seat] = ""
            continue
        materials = [
            BatchMaterial(batch_id="", material=p.material, volume_ml=p.volume_m3 * ML_PER_M3)
            for p in bottle.blend.bottle.portions
        ]
        lot = lots[bottle.seat] = journal.next_lot(made_on)
        batch = BatchRow(version_id=version.version.id, lot=lot, made_on=made_on)
        journal.make_batch(batch, [(1, bottle.blend.bottle_m3 * ML_PER_M3)], materials)
    return lots
