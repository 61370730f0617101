"""Batch record: planned and weighed amounts, deviations, yield, checks, release.

The shape is that of ISO 22716:2007 (cosmetics, good manufacturing practices); its clauses, and
which of them were read, are in `data/seller_papers.csv`. Facts come from the journal; what it
does not hold is typed and kept by `blendkit.selling.papers`.
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

from blendkit.blend.blend import Blend
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import G_PER_KG, ML_PER_M3, counted, show, show_ml, signed, to_si
from blendkit.journal.records import BatchBottles, BatchMaterial, BatchPaperRow, BatchRow
from blendkit.journal.store import Journal
from blendkit.making import bench_events as events
from blendkit.making.bench_log import Bench, Line
from blendkit.making.bench_words import line_in_words, name_of
from blendkit.making.mixture import Content, is_oil
from blendkit.materials.amounts import add_up
from blendkit.materials.catalogue import OWN_MARK, unfold
from blendkit.selling.papers import RECORD, RELEASE, RELEASED, Look, looks, papers, texts
from blendkit.skin.check import rules_in
from blendkit.skin.limits import findings_of
from blendkit.skin.verdict import Verdict, judge

# limits: common practice, no published source
CHECKS = {
    "start": "papers and materials there, all clean, table cleared",
    "look": "clear, no drops, nothing settled",
    "smell": "as the sample kept of an earlier batch",
    "contents": "no bottle below the contents on its label",
    "closure": "ball turns; no oil on paper after a night on its side",
    "labels": "product and lot right; labels used and left agree",
}
TYPED = {  # label, and a hint
    "made_by": ("Made by", ""),
    "checked_by": ("Checked by", ""),
    "balance": ("Balance", "which one, and when it was last checked"),
    "filled": ("Bottles filled", "how many"),
    "decision": ("On deviations", "accepted why and by whom; correction"),
    "sample": ("Sample kept", "how many, where, until when"),
    "remark": ("Remark", ""),
}
TOLERANCE, _STEP_G = "2 %", 0.01  # judgement, as for a scale reading; a step of the scale
_UNPLANNED = events.AccidentalDrops | events.Spilled | events.MixedIn | events.Remark


class MaterialLine(NamedTuple):
    """One material of a batch. [g]

    Attributes
    ----------
    row : BatchMaterial or None
        None for a planned material that is not in the batch.
    name, lot : str
    planned_g, weighed_g : float or None
        None where nobody planned or weighed it.
    how : str
        "weighed", "counted" or "part weighed"; "" for what is not weighed yet.
    off : float or None
        Relative difference of weighed and planned, all lots of the material together. [-]
    is_off : bool
        Whether that passes the tolerance and a step of the scale, or one of the two lacks.
    """

    row: BatchMaterial | None
    name: str
    lot: str
    planned_g: float | None
    weighed_g: float | None
    how: str
    off: float | None
    is_off: bool


class BatchRecord(NamedTuple):
    """Record of one batch.

    Attributes
    ----------
    product : str
        Blend and version.
    batch : BatchRow
    bottles : str
        Such as "8 × 10 mL + 4 × 30 mL".
    materials : tuple of MaterialLine
    deviations : tuple of str
        From the bench log, then amounts beyond the tolerance.
    yields : tuple of str
    typed : mapping
        Document of the record, as typed.
    releases : tuple of BatchPaperRow
        Oldest first; the last one counts.
    looks : tuple of Look
        Oldest first.
    corrections : int
        How often the kept record was corrected.
    judged : Verdict or None
        Of what went in; None where its version cannot be read.
    """

    product: str
    batch: BatchRow
    bottles: str
    materials: tuple[MaterialLine, ...]
    deviations: tuple[str, ...]
    yields: tuple[str, ...]
    typed: Mapping[str, Any]
    releases: tuple[BatchPaperRow, ...]
    looks: tuple[Look, ...]
    corrections: int
    judged: Verdict | None = None

    @property
    def checks(self) -> list[tuple[str, str, str]]:
        """Name, limit and result of each check."""
        found = texts(self.typed.get("checks"))
        return [(check, limit, found.get(check, "")) for check, limit in CHECKS.items()]

    @property
    def release(self) -> str:
        """Latest decision in words; "" where there is none."""
        if not self.releases:
            return ""
        last, row = self.releases[-1], texts(self.releases[-1].document)
        why = f": {row['why']}" if row.get("why") else ""
        return f"{row.get('decision')} on {last.dated_on} by {row.get('by')}{why}"

    @property
    def open_points(self) -> tuple[str, ...]:
        """Sentences on what is blank still."""
        without = [line.name for line in self.materials if line.row and not line.lot]
        blank = [check for check, _, found in self.checks if not found]
        undecided = "" if self.typed.get("decision") else len(self.deviations)
        warning = self.judged.warning if self.judged else "Not judged on skin."
        points = {
            warning: warning,
            f"No supplier's lot: {', '.join(without)}.": without,
            f"No result: {', '.join(blank)}.": blank,
            f"No decision on deviations or remarks: {undecided}.": undecided,
            "No maker's name.": not self.typed.get("made_by"),
            "No sample kept.": not self.typed.get("sample"),
            "Not released.": not self.release.startswith(RELEASED),
        }
        return tuple(sentence for sentence, is_open in points.items() if is_open)


def record_of(
    journal: Journal,
    batch: BatchRow,
    product: str,
    blend: Blend | None = None,
    bench: Bench | None = None,
    typed: Mapping[str, Any] | None = None,
) -> BatchRecord:
    """Fill in the record of a batch from the journal.

    Parameters
    ----------
    journal : Journal
    batch : BatchRow
    product : str
        Blend and version in words.
    blend : Blend, optional
        The version, to judge what went in.
    bench : Bench, optional
        The session that made it; a batch made by a weighing list has none.
    typed : mapping, optional
        In place of the kept document.

    Raises
    ------
    BadNumber
        An amount or the tolerance cannot be read.
    CannotJournal
    """
    kept = papers(journal, batch, RECORD)
    typed = typed if typed is not None else dict(kept[-1].document) if kept else {}
    bottles = journal.all(BatchBottles, batch_id=batch.id)
    lines = tuple(_lines(journal.all(BatchMaterial, batch_id=batch.id), bench, typed))
    return BatchRecord(
        product=product,
        batch=batch,
        bottles=" + ".join(f"{b.count} × {show_ml(b.size_ml / ML_PER_M3)}" for b in bottles),
        materials=lines,
        deviations=(*(bench_deviations(bench) if bench else ()), *_off_in_words(lines)),
        yields=tuple(_yields(sum(some.count for some in bottles), bench, typed)),
        typed=typed,
        releases=tuple(papers(journal, batch, RELEASE)),
        looks=tuple(looks(journal, batch)),
        corrections=len(journal.history(BatchPaperRow, kept[-1].id)) - 1 if kept else 0,
        judged=judge_as_made(blend, lines) if blend else None,
    )


def judge_as_made(blend: Blend, lines: Sequence[MaterialLine]) -> Verdict:
    """Judge a batch by what went in: weighed or counted, else as the weighing list has it."""
    masses_g = {
        line.row.material: line.weighed_g or line.row.mass_g or 0.0
        for line in lines
        if line.row
    }
    whole_g = sum(masses_g.values()) or 1.0
    fractions = {name: mass_g / whole_g for name, mass_g in unfold(masses_g).items()}
    rules = rules_in(blend, among=[name for name in masses_g if is_oil(name)])
    return judge(blend, findings_of(rules, fractions), in_drops=False)


def _lines(
    rows: Sequence[BatchMaterial], bench: Bench | None, typed: Mapping[str, Any]
) -> Iterator[MaterialLine]:
    tolerance = to_si(
        str(typed.get("tolerance") or TOLERANCE), "dimensionless", name="tolerance"
    )
    planned, lots = _planned_g(rows, bench), texts(typed.get("lots"))
    read = [(row, _shelf(row.material), *_weighed_g(row, bench, typed)) for row in rows]
    together = add_up((shelf, weighed or 0.0) for _, shelf, weighed, _ in read)
    has_plan = bool(planned)  # two lots are one planned amount
    for row, shelf, weighed, how in read:
        plan, whole = planned.pop(shelf, None), together.pop(shelf, None)
        off, is_off = None, has_plan and plan is None and whole is not None
        if plan and whole:
            off = whole / plan - 1
            is_off = abs(whole - plan) > max(tolerance * plan, _STEP_G) * (1 + 1e-9)
        lot = lots.get(row.material, row.supplier_lot)
        yield MaterialLine(row, name_of(row.material), lot, plan, weighed, how, off, is_off)
    for name, plan in planned.items():
        yield MaterialLine(None, name_of(name), "", plan, None, "", None, is_off=True)


def _shelf(material_id: str) -> str:
    return material_id.partition(OWN_MARK)[0]  # also of what is no longer on record


def _planned_g(rows: Sequence[BatchMaterial], bench: Bench | None) -> dict[str, float]:
    """Planned mass by shelf id; empty where the bottle was begun without a plan. [g]"""
    amounts = [(row.material, row.mass_g or 0.0) for row in rows]
    if bench is not None:
        start = bench.lines[0].event
        assert isinstance(start, events.Start)
        portions = Blend(start.document).bottle.portions if bench.plan.target_drops else ()
        amounts = [(part.material, part.mass_kg * G_PER_KG) for part in portions]
    return add_up((_shelf(name), mass_g) for name, mass_g in amounts if mass_g)


def _weighed_g(
    row: BatchMaterial, bench: Bench | None, typed: Mapping[str, Any]
) -> tuple[float | None, str]:
    """Mass as typed, or as the bench log has it, and how it is known. [g]"""
    amount = texts(typed.get("weighed")).get(row.material, "").strip()
    if amount:
        where = f"weighed, {name_of(row.material)}"
        kind, mass_kg = events.parse_amount(amount, where)
        if kind != "mass":
            raise BadNumber([Problem(where, quoted(amount), 'a mass, such as "3.42 g"')])
        return mass_kg * G_PER_KG, "weighed"
    if bench is None:
        return None, ""
    content = bench.mixture.amounts.get(row.material, Content())
    if not content.weighed_kg:
        return row.mass_g, "counted"
    return row.mass_g, "part weighed" if content.calculated_kg else "weighed"


def _off_in_words(lines: Sequence[MaterialLine]) -> Iterator[str]:
    for line in lines:
        if line.is_off and line.off is not None:
            yield f"{line.name}: {signed(line.off * 100)} % of the planned amount."
        elif line.is_off:
            yield f"{line.name}: {'not planned' if line.row else 'planned, not in the batch'}."


def bench_deviations(bench: Bench) -> tuple[str, ...]:
    """Lines of a bench log that no plan has: accidents, spills, additions, remarks.

    A scale reading is one where the log finds that it disagrees; what was taken back is none.
    """
    return tuple(
        f"No. {line.number}, {line_in_words(bench, line)}"
        + (f": {line.message}" if line.message else ".")
        for line in bench.lines
        if line.counts and (isinstance(line.event, _UNPLANNED) or _disagrees(line))
    )


def _disagrees(line: Line) -> bool:
    return isinstance(line.event, events.ScaleReading) and "agree" not in line.message.lower()


def _yields(planned: int, bench: Bench | None, typed: Mapping[str, Any]) -> Iterator[str]:
    filled = str(typed.get("filled", "")).strip()
    if planned and filled.isdecimal() and len(filled) < 7:  # else it is words, and printed
        share = show(int(filled) / planned * 100)
        yield f"{filled} of {counted(planned, 'bottle')} filled: {share} %."
    if bench is not None and bench.mixture.mass_kg:
        lost_kg = sum(
            before.mixture.mass_kg - line.mixture.mass_kg
            for before, line in pairwise(bench.lines)
            if line.counts and isinstance(line.event, events.Spilled)
        )
        left_g = bench.mixture.mass_kg * G_PER_KG
        in_g = left_g + lost_kg * G_PER_KG
        share = show(left_g / in_g * 100)
        yield f"{show(left_g)} of {show(in_g)} g by the bench log: {share} %."
