"""Tables of the bench as HTML: bottle, log, impressions."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from blendkit.foundation.units import G_PER_KG, ML_PER_M3, show
from blendkit.journal.records import Impression, Like
from blendkit.making.bench_log import Bench
from blendkit.making.bench_words import line_in_words, name_of, ratio_of_notes
from blendkit.making.mixture import Mixture, is_oil
from blendkit.showing.kit.rendering import render

MOST_LINES = 30


def bottle_list(mixture: Mixture) -> str:
    """Table of the bottle on the bench, material by material."""
    whole_kg = mixture.mass_kg
    rows = [
        {
            "note": mixture.plan.note_of(name),
            "name": name_of(name),
            "drops": show(mixture.drops_now(name)) if is_oil(name) else "",
            "volume_ml": f"{mixture.volumes_m3[name] * ML_PER_M3:.2f}",
            "mass_g": f"{mass * G_PER_KG:.3f}",
            "percent": f"{mass / whole_kg * 100:.1f}",
        }
        for name, mass in mixture.masses_kg.items()
        if mass
    ]
    return render(
        "bench_bottle",
        rows=rows,
        ratio=ratio_of_notes(mixture),
        oil_drops=show(mixture.oil_drops),
        volume_ml=f"{mixture.volume_m3 * ML_PER_M3:.2f}",
        mass_g=f"{whole_kg * G_PER_KG:.3f}",
    )


def bench_lines(bench: Bench, times: Sequence[datetime]) -> str:
    """Newest lines of the log, newest first, with the number of earlier ones."""
    shown = list(zip(bench.lines, times, strict=True))[-MOST_LINES:]
    rows = [(line, when, line_in_words(bench, line)) for line, when in reversed(shown)]
    return render("bench_log", rows=rows, earlier=len(bench.lines) - len(shown))


def impression_list(impressions: Iterable[Impression]) -> str:
    """Table of the impressions of a bottle, newest first."""
    known = sorted(impressions, key=lambda one: (one.happened_at, one.turn), reverse=True)
    shown = known[:MOST_LINES]
    earlier = len(known) - len(shown)
    return render("impressions", shown=shown, earlier=earlier, name_of=name_of)


def likes_in_words(likes: Iterable[Like]) -> str:
    """List who liked a version and who did not; each person's newest word counts."""
    newest = {one.person: one.liked for one in sorted(likes, key=lambda one: one.happened_at)}
    if not newest:
        return "Nobody was asked yet."
    who = {words: ", ".join(person for person, liked in newest.items() if liked is so)
           for words, so in (("liked by", True), ("not liked by", False))}  # fmt: skip
    said = "; ".join(f"{words} {names}" for words, names in who.items() if names)
    return f"{sum(newest.values())} of {len(newest)}: {said}."
