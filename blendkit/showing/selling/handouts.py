"""Who got which bottle: the picture of a trail, and pages to print."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from blendkit.batch.label import LabelDetails, label_of
from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.fade_words import whole_line
from blendkit.evaporation.forecast import lasting_of
from blendkit.evaporation.wear import film_of
from blendkit.journal.people_table import Person
from blendkit.journal.records import BatchRow
from blendkit.keeping.handing import name_of
from blendkit.selling.trace import Recall, Source
from blendkit.showing.kit.rendering import render
from blendkit.showing.skin.fragments import NO_NAME
from blendkit.skin.cautions import patch_test_steps

MOST_DRAWN = 60  # bottles of a batch
People = Mapping[str, Person]


def picture(title: str, found: Recall, people: People, *, is_lot: bool = True) -> str:
    """Lot, mixtures, batches and people in their order; each batch with its bottles.

    Where no lot is traced, each batch has its own lots.
    """
    return render("trail", **_shown(title, found, people, with_sources=not is_lot))


def recall_page(title: str, found: Recall, people: People, *, names: bool = True) -> str:
    """A list to work through when bottles are called back; without names for anybody else."""
    shown = _shown(title, found, people if names else {}, with_sources=not names)
    return render("recall", names=names, printed_on=date.today(), **shown)


def tag_page(blend: Blend, batch: BatchRow, maker: tuple[str, str], count: int) -> str:
    """Gift tags of a batch with marks to cut along; `maker` is a name and a contact."""
    details = LabelDetails(maker[0], batch.lot, maker[1], mixed_on=batch.made_on)
    lasts = whole_line(lasting_of(film_of(blend.bottle, Conditions.read())), "The scent")
    texts = {part.key: part.text for part in label_of(blend, details).parts}
    name, test = blend.name or NO_NAME, patch_test_steps()[1:4]
    return render("gift_tag", texts=texts, name=name, lasts=lasts, count=count, patch_test=test)


def _shown(title: str, found: Recall, people: People, *, with_sources: bool) -> dict[str, Any]:
    trails = (*found.certain, *found.possible)
    return {
        "title": title,
        "mixtures": found.mixtures,
        "cards": [
            {
                "trail": trail,
                "name": trail.name or NO_NAME,
                "is_possible": trail in found.possible,
                "drawn": ([True] * trail.given + [False] * trail.here)[:MOST_DRAWN],
                "rows": [(row, name_of(people, row.person), people.get(row.person))
                         for row in trail.handed],
                "sources": named_sources(trail.sources) if with_sources else [],
            }
            for trail in trails
        ],
        "given": sum(trail.given for trail in trails),
        "here": sum(trail.here for trail in trails),
        "people": len({row.person for trail in trails for row in trail.handed}),
    }  # fmt: skip


def named_sources(sources: Iterable[Source]) -> list[str]:
    """Materials with their lots, and the mixtures that they went through."""
    return [
        f"{each.name}: {f'lot {each.lot}' if each.lot else 'no lot written down'}"
        + (f", through mixture {', '.join(each.through)}" if each.through else "")
        + ("" if each.is_sure else " (perhaps)")
        for each in sources
    ]
