"""Who got which bottle: the picture of a trail, and pages to print."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from blendkit.batch.label import Label
from blendkit.journal.people_table import Person
from blendkit.keeping.handing import name_of
from blendkit.selling.reactions import ReactionDuty
from blendkit.selling.trace import Recall, Source, Trail
from blendkit.showing.kit.rendering import render
from blendkit.showing.skin.fragments import NO_NAME
from blendkit.skin.cautions import patch_test_steps

MOST_DRAWN = 60  # bottles of a batch
People = Mapping[str, Person]


def picture(title: str, found: Recall, people: People, *, with_sources: bool = False) -> str:
    """Lot, mixtures, batches and people from left to right; each batch with its bottles."""
    return render("trail", **_shown(title, found, people, with_sources=with_sources))


def recall_page(title: str, found: Recall, people: People, *, names: bool = True) -> str:
    """A list to work through when bottles are called back; without names for anybody else."""
    shown = _shown(title, found, people if names else {}, with_sources=not names)
    return render("recall", names=names, printed_on=date.today(), **shown)


def reaction_page(
    reaction: Mapping[str, str],
    person: Mapping[str, str],
    trail: Trail | None,
    duties: Sequence[ReactionDuty],
) -> str:
    """A form of a reaction, filled as far as it is on record and with blanks for the rest."""
    sources = _named(trail.sources) if trail else []
    return render("reaction", reaction=reaction, person=person, trail=trail, sources=sources,
                  duties=duties)  # fmt: skip


def duty_list(duties: Sequence[ReactionDuty], reported: Sequence[Mapping[str, str]]) -> str:
    """Duties of the region with their last day, and what a person reported before."""
    return render("reaction_duties", duties=duties, reported=reported)


def tag_page(label: Label, lasts: str, count: int) -> str:
    """Gift tags with marks to cut along."""
    return render("gift_tag", label=label, name=label.part("name").text or NO_NAME,
                  lasts=lasts, count=count, patch_test=patch_test_steps()[1:4])  # fmt: skip


def _shown(title: str, found: Recall, people: People, *, with_sources: bool) -> dict[str, Any]:
    trails = [*found.certain, *found.possible]
    cards = [
        _card(trail, people, is_possible=trail in found.possible, with_sources=with_sources)
        for trail in trails
    ]
    return {
        "title": title,
        "mixtures": found.mixtures,
        "cards": cards,
        "given": sum(card["given"] for card in cards),
        "here": sum(trail.here for trail in trails),
        "people": len({row.person for trail in trails for row in trail.handed}),
    }


def _card(
    trail: Trail, people: People, *, is_possible: bool, with_sources: bool
) -> dict[str, Any]:
    given = sum(row.bottles for row in trail.handed)
    drawn = min(given + trail.here, MOST_DRAWN)
    return {
        "name": trail.name or NO_NAME,
        "batch": trail.batch,
        "is_possible": is_possible,
        "given": given,
        "here": trail.here,
        "drawn": [place < round(given * drawn / ((given + trail.here) or 1))
                  for place in range(drawn)],
        "rows": [
            (row, name_of(people, row.person), _contact(people, row.person))
            for row in trail.handed
        ],
        "sources": _named(trail.sources) if with_sources else [],
    }  # fmt: skip


def _contact(people: People, id: str) -> str:
    person = people.get(id)
    return str(person.document.get("contact", "")) if person else ""


def _named(sources: Sequence[Source]) -> list[str]:
    return [
        f"{each.name}: {f'lot {each.lot}' if each.lot else 'no lot written down'}"
        + (f", through mixture {', '.join(each.through)}" if each.through else "")
        + ("" if each.is_sure else " (perhaps)")
        for each in sources
    ]
