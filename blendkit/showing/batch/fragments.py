"""Tables of a batch, as HTML; its printed lists, under the verdict."""

from collections.abc import Sequence

from blendkit.batch.bottles import bottles_in_words
from blendkit.batch.cost import Cost
from blendkit.batch.master import Master
from blendkit.batch.packs import ShoppingList
from blendkit.batch.scaling import Batch, fill_level
from blendkit.foundation.money import Money
from blendkit.foundation.units import G_PER_KG, show, show_ml, signed
from blendkit.showing.kit.rendering import render, table
from blendkit.showing.skin.fragments import NO_NAME
from blendkit.skin.check import marked_name
from blendkit.skin.verdict import Verdict

_UNKNOWN = "–"


def dilution_list(found: Master) -> str:
    """Table of master and carrier for each bottle; cells that rows share are shown once."""
    rows = []
    for each in found.dilutions:
        bottles: tuple[object, ...] = (
            each.bottles.count,
            show_ml(each.bottles.bottle_m3),
            f"{show(each.strength_fraction * 100)} % by {each.basis}",
            f"{show(each.strength_by_mass * 100)} %",
        )
        for weighing in each.weighings:
            rows.append((*bottles, weighing.name, weighing.reading))
            bottles = ("",) * 4
    headings = ("Bottles", "Size", "Strength", "Oils by mass", "Into each", "Amount")
    return table("Into each bottle", headings, rows)


def weighing_list(batch: Batch | Master, caption: str) -> str:
    """Table of amounts to measure out in order, with the scale's error."""
    rows = [
        (
            number,
            marked_name(each.material),
            each.reading,
            f"{each.exact_mass_kg * G_PER_KG:.3f} g",
            f"{signed(each.error_percent)} %",
            f"± {show(each.half_step_percent, 2)} %" if each.way == "grams" else _UNKNOWN,
        )
        for number, each in enumerate(batch.weighings, 1)
    ]
    headings = ("", "Material", "Measure out", "Target", "Rounding", "Scale error")
    return table(caption, headings, rows)


def pour_list(batch: Batch) -> str:
    """Table of the filling of each bottle."""
    bottle, level = batch.blend.bottle, fill_level(batch.blend)
    density = bottle.mass_kg / bottle.volume_m3
    rows = [
        (
            some.count,
            show_ml(some.bottle_m3),
            show_ml(some.bottle_m3 * level),
            f"{some.bottle_m3 * level * density * G_PER_KG:.2f} g",
        )
        for some in batch.bottles
    ]
    headings = ("Bottles", "Size", "Pour", "Mass")
    return table("Into the bottles", headings, rows, "No whole bottle.")


def cost_list(cost: Cost) -> str:
    """Table of the calculation of the cost."""
    rows = [
        (
            marked_name(line.material) if line.material else line.name,
            line.amount,
            line.arithmetic or line.remark,
            _UNKNOWN if line.cost is None else Money(line.cost, cost.currency),
        )
        for line in cost.lines
    ]
    headings = ("", "Amount", "Calculation", "Cost")
    return table("Cost, line by line", headings, rows)


def shopping_table(found: ShoppingList) -> str:
    """Table of the packs to buy."""
    rows = [
        (
            marked_name(line.material),
            show_ml(line.needed_m3),
            ", ".join(f"{count} × {pack.size}" for pack, count in line.picks),
            ", ".join(dict.fromkeys(p.supplier for p, _ in line.picks if p.supplier))
            or _UNKNOWN,
            str(Money(line.cost, found.currency)),
            show_ml(line.left_over_m3),
        )
        for line in found.lines
    ]
    rows += [
        (marked_name(name), show_ml(volume_m3), "no pack typed", "", "", "")
        for name, volume_m3 in found.not_sold
    ]
    headings = ("Material", "Missing", "Buy", "From", "Cost", "Left over")
    return table("Shopping list", headings, rows, "Nothing is missing.")


def page(
    title: str,
    batch: Batch,
    judged: Verdict,
    tables: Sequence[str],
    sentences: Sequence[str],
) -> str:
    """Tables of a batch as a page to tick off, under its verdict."""
    amounts = (bottles_in_words(batch.bottles), f"{show_ml(batch.volume_m3)} in all")
    head = {"title": title, "judged": judged, "name": batch.blend.name or NO_NAME}
    amount = ", ".join(filter(None, amounts))
    return render("batch_sheet", **head, amount=amount, tables=tables, sentences=sentences)
