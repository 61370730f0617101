"""What next: an oil that ran out, the map of a blend, and what the shelf answers."""

from __future__ import annotations

import numpy as np
import pytest

import blendkit as bk
from blendkit import example_document
from blendkit.choosing.map import HOURS
from blendkit.foundation.units import ML_PER_M3
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.replacement import oils_left, shelf_left
from blendkit.keeping.stock_entries import buy, count
from blendkit.keeping.versions import keep_version
from blendkit.materials import catalogue
from blendkit.materials.constituents import constituent
from blendkit.panels import blend_map, first_bottle, replace_oil, skin_check, tonight
from blendkit.panels.kit.deferred import Aside
from blendkit.panels.kit.message import Message
from blendkit.panels.kit.parts import SlidingNumber

pytestmark = pytest.mark.usefixtures("own_folder")
BLEND = bk.Blend(example_document())


def stocked(*names, size="10 mL"):
    for name in names:
        buy(the_journal(), name, size, price=5.0, currency="EUR")


def everything(blend=BLEND):
    return [portion.material for portion in blend.bottle.portions]


# --- from a cell ------------------------------------------------------------------------------


def test_stock_decides_what_may_come_in():
    assert oils_left() is None
    assert "lavandin-grosso" in bk.replace_oil(BLEND, "lavender").oil_drops
    stocked("petitgrain", "clary-sage")
    made = bk.replace_oil(example_document(), "lavender")
    assert set(made.oil_drops) <= {*BLEND.oil_drops, "petitgrain", "clary-sage"}
    assert "lavender" not in made.oil_drops
    assert not bk.verdict(made).over


def test_a_shelf_that_is_named_goes_before_the_stock_and_may_name_carriers():
    stocked("petitgrain")
    made = bk.replace_oil(BLEND, "lavender", ["lavandin-grosso", "jojoba"])
    assert made.oil_drops["lavandin-grosso"] > 0
    with pytest.raises(bk.UnknownMaterial):
        bk.replace_oil(BLEND, "lavender", ["lavandin-gross"])


@pytest.mark.parametrize("shelf", [[], ["clove-bud"], ["clove-bud", "lemon"]])
def test_without_a_near_relative_it_is_infeasible_and_says_why(shelf):
    with pytest.raises(bk.Infeasible, match="an oil that shares 25 % or more"):
        bk.replace_oil(BLEND, "lavender", shelf)


def test_an_own_lot_is_in_stock_as_its_oil_is():
    composition = catalogue.oil("lavender").composition
    lines = "\n".join(
        f"{constituent(s.constituent).name} {s.typical * 97}" for s in composition
    )
    lot = bk.keep_lot("lavender", "B07", bk.read_analysis(lines)).id
    stocked("lavender")
    assert shelf_left()[lot] == shelf_left()["lavender"] == pytest.approx(10 / ML_PER_M3)
    assert lot in bk.replace_oil(BLEND, "lavender").oil_drops
    count(the_journal(), "lavender", "0 mL")
    assert lot not in shelf_left()


# --- an oil ran out ---------------------------------------------------------------------------


def test_the_missing_oil_is_replaced_and_taken_in_hand():
    panel, other = replace_oil(), skin_check()
    panel.missing.value = "lavender"
    panel.find()
    assert panel.found is not None
    assert panel.found.blend.oil_drops["lavender"] == 0
    assert "the whole catalogue counts" in panel.words.view.value
    assert "Within" in panel.judged_after.value
    assert panel.result.layout.display is None
    by_hour = {}
    for row in panel.chart.rows:
        by_hour.setdefault(row["hour"], {})[row["kind"]] = row["share"]
    assert all(h["stays"] + h["lost"] == pytest.approx(1) for h in by_hour.values())
    panel.take()
    other.hand.watch.look()
    assert "lavender" not in other.blend.oil_drops
    assert panel.found is None  # it was for the blend before
    panel.hand.undo()
    assert panel.blend == BLEND


def test_how_many_materials_may_change_is_kept():
    panel = replace_oil()
    panel.missing.value, panel.most.value = "lavender", 1
    panel.find()
    found = panel.found.blend.oil_drops
    changed = [n for n in found if found[n] != BLEND.oil_drops.get(n, 0) and n != "lavender"]
    assert len(changed) <= 1


def test_what_a_wearer_leaves_out_does_not_come_in():
    skin_check().wearers.value = ("pregnant or breastfeeding",)
    panel = replace_oil()
    panel.missing.value = "lavender"
    panel.find()
    from blendkit.skin.cautions import excluded_for

    come_in = {n for n, c in panel.found.blend.oil_drops.items() if c} - set(BLEND.oil_drops)
    assert not come_in & set(excluded_for(["pregnant or breastfeeding"]))


def test_a_shelf_without_a_relative_says_so_first():
    stocked("clove-bud")
    panel = replace_oil()
    panel.missing.value = "patchouli"
    panel.find()
    assert "<li>No near relative of Patchouli is on your shelf." in panel.words.view.value


def test_only_the_newest_search_counts(monkeypatch):
    import asyncio
    from concurrent.futures import ThreadPoolExecutor

    from blendkit.panels.kit import deferred

    async def two_searches():
        monkeypatch.setattr(deferred, "_loop", asyncio.get_running_loop)
        found, message = [], Message()
        aside = Aside(message.guard)
        aside.run(lambda: 1, found.append)
        aside.run(lambda: 2, found.append)
        await asyncio.sleep(0.2)
        aside.run(lambda: 3, found.append)
        aside.cancel()
        aside.run(lambda: bk.Blend({}), found.append)
        await asyncio.sleep(0.2)
        return found, message

    # a page test before this one may have left its loop in this thread
    found, message = ThreadPoolExecutor().submit(asyncio.run, two_searches()).result()
    assert found == [2]
    assert message.is_refusal


# --- the map ----------------------------------------------------------------------------------


def test_a_dragged_dot_is_in_hand_and_every_panel_follows():
    panel, other = blend_map(), first_bottle()
    made, rows = panel.map, panel.chart.rows
    for pick in (120, 400, 401):
        panel.chart.picked = pick
        assert panel.map is made  # and so its ratio within a corner
        assert panel.chart.rows is rows
        assert panel.chart.signals == {"hour": 0, "here": pick}
        counts = dict(zip(made.bottle.ids, made.drops[pick].tolist(), strict=True))
        assert dict(panel.blend.oil_drops) == counts
        assert panel.ratio.value == " : ".join(map(str, made.dots[pick]))
        other.hand.watch.look()
        assert other.blend.oil_drops == panel.blend.oil_drops
    assert panel.blend.total_drops == BLEND.total_drops
    assert not any("drops" in oil for oil in panel.blend.to_dict()["oils"])


def test_an_edge_of_the_map_can_be_left_again():
    panel = blend_map()
    edge = int(np.flatnonzero(panel.map.dots[:, 0] == 0)[3])
    panel.chart.picked = edge
    assert panel.blend.oil_drops["petitgrain"] == 0
    again = blend_map()  # opened on the edge
    assert again.map.corners == ("top", "middle", "base")
    again.chart.picked = 300
    assert again.blend.oil_drops["petitgrain"] > 0


def test_a_typed_ratio_moves_the_ring_and_stays_as_typed():
    panel = blend_map()
    panel.ratio.value = "5: 1 : 2,0"
    assert panel.ratio.value == "5: 1 : 2,0"
    whole = panel.map.dots[panel.chart.signals["here"]]
    assert whole.sum() == 40
    assert whole[0] == 25
    for text in ("5 : many : 2", "5 : 2", "", "0:0:0", "-1:2:3"):
        panel.ratio.value = text
        assert panel.message.is_refusal
        assert "three numbers, one above 0" in panel.message.view.value
    panel.ratio.value = "5 : 1 : 2"
    assert not panel.message.is_refusal


def test_the_map_shows_limits_kept_versions_and_the_hour():
    keep_version(the_journal(), BLEND)
    keep_version(the_journal(), BLEND.with_(note_parts={"top": 1, "middle": 1, "base": 1}))
    panel = blend_map(BLEND)
    dots = {row["pick"]: row for row in panel.chart.rows if "pick" in row}
    assert len(dots) == 861
    barred = {pick for pick, row in dots.items() if row["barred"]}
    assert barred == {n for n, why in enumerate(panel.map.barred_by) if why}
    assert barred
    assert sum("kept" in row for row in dots.values()) == 2
    assert "kept" in dots[panel.chart.signals["here"]]  # the first of them
    for number, dot in enumerate(panel.map.grid.tolist()):
        for hour in range(len(HOURS)):
            lead = panel.map.leads[number, hour]
            if np.sort(lead)[-1] - np.sort(lead)[-2] > 0.1:
                assert dots[dot]["leads"][hour] == lead.argmax()
    panel.hour.value = 2
    assert panel.chart.signals["hour"] == 2


def test_no_calculation_of_the_chart_writes_over_a_field_of_its_rows():
    panel = blend_map(BLEND)
    fields = {key for row in panel.chart.rows for key in row}
    steps = [step for layer in panel.chart.spec["layer"] for step in layer.get("transform", ())]
    made = {step["as"] for step in steps if "as" in step}
    assert {"lead", "sure"} <= made
    assert not made & fields  # a change of the hour calculates once more, from the rows


def test_any_three_materials_can_be_the_corners_and_two_alike_are_refused():
    panel = blend_map()
    for each, oil in zip(panel.corners, ("lavender", "geranium", "petitgrain"), strict=True):
        each.value = oil
    assert panel.map.groups[:3] == (("lavender",), ("geranium",), ("petitgrain",))
    assert {row["corner"] for row in panel.chart.rows[:3]} == {
        bk.oils().loc[oil, "name"] for oil in ("lavender", "geranium", "petitgrain")
    }
    panel.corners[0].value = "geranium"
    assert panel.message.is_refusal
    panel.corners[0].value = "lavender"
    assert not panel.message.is_refusal


def test_a_large_bottle_has_a_map_of_fewer_dots_and_a_huge_one_a_refusal():
    panel = blend_map(BLEND.with_(bottle="30 mL"))
    drawn = [row for row in panel.chart.rows if "pick" in row]
    assert len(drawn) < 1000 < len(panel.map.dots)
    assert panel.chart.signals["here"] in {row["pick"] for row in drawn}
    assert blend_map(BLEND.with_(bottle="200 mL")).message.is_refusal


def test_a_late_report_of_a_page_changes_nothing_and_a_drag_does():
    number = SlidingNumber("Top parts", "2", 0.5, 6, 0.5)
    number.slider.max = 22
    number.value = "3"
    number.value = "21"
    number.slider.set_state({"value": 2.9999999999999996})  # rounded on the page
    assert (number.value, number.slider.value) == ("21", 21)
    number.slider.set_state({"value": 5.0})
    assert number.value == "5"
    number.slider.set_state({"value": 20.999999999999996})
    assert number.value in ("5", "21")


# --- the shelf answers ------------------------------------------------------------------------


def test_what_can_be_made_tonight_and_one_oil_short():
    keep_version(the_journal(), BLEND)
    keep_version(the_journal(), BLEND.with_(name="Gone (invented)", drops={"lavender": 9}))
    stocked(*(name for name in everything() if name != "lavender"), "lavandin-grosso")
    panel = tonight()
    assert panel.list.value.count("◐") == 3  # in the words above too
    assert "Nearest relative on your shelf: Lavandin Grosso" in panel.list.value
    assert panel.list.value.index("Garden gate") < panel.list.value.index("Gone")  # older
    stocked("lavender")
    panel.hand.watch.look()
    assert panel.list.value.count("●") == 3


def test_one_more_oil_is_ranked_within_the_limits_and_has_its_price():
    panel = tonight()
    assert "No kept blend yet" in panel.list.value
    first = panel.chart.rows[0]
    assert "EUR" not in first["words"]
    ids = dict(zip(bk.oils()["name"], bk.oils().index, strict=True))
    stocked(ids[first["label"]], size="5 mL")
    panel.hand.watch.look()
    assert [row["label"] for row in panel.chart.rows] == [first["label"]]  # on the shelf
    assert panel.chart.rows[0]["words"].endswith("5.00 EUR for 5 mL")
    panel.among.value = "every oil on record"
    assert len(panel.chart.rows) > 1
    order = [row["allowed"] for row in panel.chart.rows]
    assert order == sorted(order, reverse=True)  # within the limits first
    panel.by.value = "bring"
    assert panel.chart.rows[0]["words"].split(" · ")[0].endswith("% new")
