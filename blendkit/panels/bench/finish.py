"""Carrier to the target strength, and the bottle kept with a lot number."""

import contextlib
from collections.abc import Callable
from dataclasses import replace
from datetime import date

from blendkit.blend.blend import Blend
from blendkit.blend.market import Market
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import ML_PER_M3, show_ml
from blendkit.journal.records import BatchMaterial, BatchRow, Version
from blendkit.journal.store import Journal
from blendkit.keeping.bench_sessions import BenchRecord
from blendkit.keeping.makings import batch_materials
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.versions import KeptVersion, keep_version
from blendkit.making.bench_events import Measured, SavedAs, Spilled
from blendkit.making.limit_preview import NEGLIGIBLE_M3
from blendkit.making.mixture import Mixture, carrier_shares_m3
from blendkit.making.recipe import Rebalance, Recipe, rebalance, recipe_of
from blendkit.panels.bench.tray import Add, Guard, big_button
from blendkit.panels.kit import parts


class Pouring:
    """Carrier to add, with buttons that log it as poured."""

    def __init__(self, add: Add, guard: Guard, mixture_now: Callable[[], Mixture]) -> None:
        self._add = add
        self._mixture_now = mixture_now
        self.words = parts.Findings("")
        self.to_strength = big_button("Add carrier to strength", guard(self.pour_to_strength))
        self.to_fill = big_button("Add carrier to the mark", guard(self.pour_to_fill))
        self.off = big_button("Pour off", guard(self.pour_off))
        self.view = parts.column(
            parts.heading("Add carrier"),
            self.words.view,
            parts.row(self.to_strength, self.to_fill, self.off),
        )

    def offer(self, mixture: Mixture) -> None:
        """Show the carrier to the target strength, and that to the mark."""
        carrier = Rebalance(0.0, 0.0, ("Add an oil first.",))
        with contextlib.suppress(BadNumber):
            carrier = rebalance(mixture)
        self.words.show(carrier.sentences)
        room = carrier.to_fill_m3
        self.to_strength.disabled = not NEGLIGIBLE_M3 < carrier.to_strength_m3 <= room
        self.to_fill.disabled = not room > NEGLIGIBLE_M3
        over_m3 = -mixture.room_m3
        self.off.description = f"Pour off {show_ml(over_m3)}"
        self.off.layout.display = None if over_m3 > NEGLIGIBLE_M3 else "none"

    def pour_to_strength(self) -> None:
        """Log the carriers up to the target strength."""
        self._pour(rebalance(self._mixture_now()).to_strength_m3)

    def pour_to_fill(self) -> None:
        """Log the carriers up to the mark."""
        self._pour(rebalance(self._mixture_now()).to_fill_m3)

    def pour_off(self) -> None:
        """Log what is above the mark as lost."""
        over_ml = -self._mixture_now().room_m3 * ML_PER_M3
        self._add(Spilled(f"{over_ml:.6g} mL"))

    def _pour(self, carrier_m3: float) -> None:
        # calculated for the bottle now: the buttons are updated after the last tap
        if carrier_m3 <= NEGLIGIBLE_M3:
            raise BadNumber([Problem("carrier", "a bottle that needs none", "room for some")])
        shares = carrier_shares_m3(self._mixture_now().plan, carrier_m3)
        for name, volume_m3 in shares.items():
            self._add(Measured(name, f"{volume_m3 * ML_PER_M3:.6g} mL"))


class Finish:
    """Name, reason, and a button that keeps the bottle."""

    def __init__(self) -> None:
        self.name = parts.text_box("Name", width="440px")
        self.why = parts.text_box("Why", width="440px", placeholder="reason for this version")
        self.words = parts.Findings("")
        self.view = parts.column(
            parts.heading("Keep as a version"), self.name, self.why, self.words.view
        )

    def offer(self, record: BenchRecord) -> None:
        """Show the rounding of the recipe."""
        try:
            recipe = recipe_of(record.bench, self.name.value)
            self.words.show(recipe.sentences or ["The recipe is the bottle, drop for drop."])
        except BadNumber:
            self.words.show([])

    def keep(self, record: BenchRecord, market: Market) -> tuple[KeptVersion, BatchRow, Recipe]:
        """Keep the bottle as a version for a market, and as a batch of one with a lot number.

        Raises
        ------
        CannotJournal
            Nothing was kept beyond the log.
        BadNumber, BadBlend
            The bottle has no oil, or its name is invalid.
        """
        recipe = recipe_of(record.bench, self.name.value)
        # note by note, as a panel writes it: else the same blend would be two versions
        oils = sorted(recipe.document["oils"], key=lambda oil: NOTES.index(oil["note"]))
        blend = Blend({**recipe.document, "oils": oils})
        if market != blend.market:
            blend = blend.with_(market=market)
        journal = the_journal()
        came_from = record.parent.id if record.parent else None
        kept, _ = keep_version(journal, blend, self.why.value.strip(), came_from)
        batch = _batch(journal, record, kept.version)
        record.add(SavedAs(kept.name, kept.number))
        record.tie(kept.version, batch)
        self.why.value = ""
        return kept, batch, recipe


def _batch(journal: Journal, record: BenchRecord, version: Version) -> BatchRow:
    """Record the bottle as a batch; one that has a lot already gets its present content."""
    mixture = record.bench.mixture
    amounts = ((name, mixture.volumes_m3[name], kg) for name, kg in mixture.masses_kg.items())
    materials = batch_materials(journal, amounts)
    session = record.session
    if session is not None and session.batch_id:
        batch = journal.get(BatchRow, session.batch_id)
        for old in journal.all(BatchMaterial, batch_id=batch.id):
            journal.withdraw(old)
        journal.add(*(replace(each, batch_id=batch.id) for each in materials))
        return journal.correct(batch, version_id=version.id)
    today = date.today()
    size_ml = mixture.plan.fields.bottle_m3 * ML_PER_M3
    batch = BatchRow(version_id=version.id, lot=journal.next_lot(today), made_on=today)
    return journal.make_batch(batch, [(1, size_ml)], materials)
