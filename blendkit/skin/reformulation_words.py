"""A reformulation in words: what moves, what no limit judges, what is in the way."""

from __future__ import annotations

from blendkit.foundation.errors import Problem
from blendkit.foundation.units import counted, show
from blendkit.skin.counted_bottle import CountedBottle, name_of
from blendkit.skin.nearest import Counts


def moves_in_words(bottle: CountedBottle, drops: Counts, swapped: Counts) -> list[str]:
    """What to take out, put in or change, and the drops in all."""
    if (drops == bottle.drops).all():
        return ["No drop has to move: every limit that has a figure is kept."]
    name = dict(zip(bottle.ids, bottle.names, strict=True))
    words = [
        f"Change {counted(count, 'drop')} of {name[old]} for {name[new]}."
        for (old, new), count in zip(bottle.gentler.items(), swapped, strict=True)
        if count
    ]
    changes = zip(bottle.names, bottle.drops, drops, strict=True)
    words += [f"{oil}: {was} → {counted(n, 'drop')}." for oil, was, n in changes if was != n]
    by_note = [
        f"{note} {sum(n for n, own in zip(drops, bottle.notes, strict=True) if own == note)}"
        for note in dict.fromkeys(bottle.notes)
    ]
    total = f"Drops of oil in all: {sum(bottle.drops)} → {sum(drops)} ({', '.join(by_note)})."
    return [*words, total]


def silences_in_words(bottle: CountedBottle, drops: Counts) -> list[str]:
    """The oils in the bottle that no limit on record judges."""
    fractions = bottle.mass_fractions(drops)
    silent = [rule for rule in bottle.rules if rule.ceiling is None and rule.amount(fractions)]
    names = ", ".join(dict.fromkeys(rule.subject for rule in silent))
    return [f"No limit on record, so neither passed nor forbidden: {names}."] if silent else []


def ways_out(bottle: CountedBottle, keep: str | None = None, at_least: int = 0) -> str:
    """What could be let go of, where no blend was found."""
    ways = [f'Let total or note ratio change (now keep="{keep}").'] if keep else []
    ways += ["Let oils go down to 0 drops (at_least=0)."] if at_least else []
    if not bottle.filler:
        ways.append("Add a carrier: without one the oils must go on filling the bottle.")
    return " ".join(ways) or "Take a larger bottle, in which a drop weighs less."


def obstacles(bottle: CountedBottle, drops: Counts, fix: str) -> list[Problem]:
    """Every limit that is over at these drops, as a problem."""
    fractions, counts = bottle.mass_fractions(drops), drops.tolist()
    problems = []
    for rule in bottle.over(drops):
        held = [
            f"{counted(count, 'drop')} of {name}"
            for oil, name, count in zip(bottle.ids, bottle.names, counts, strict=True)
            if count and rule.weights.get(oil)
        ]
        got = f"{show(rule.share(fractions) * 100)} % of the limit with {', '.join(held)}"
        needed = f"at most 100 %, which is {show((rule.ceiling or 0) * 100)} % by mass"
        if rule.kind == "phototoxic sum":
            needed = "at most 100 %"
        way_out = fix
        if not rule.ceiling:
            got, needed, way_out = ", ".join(held), "none at all", "Take another oil instead."
        way_out += "" if rule.decides else " Or leave advice out (heed_advice=False)."
        problems.append(Problem(name_of(rule), got, needed, way_out))
    return problems
