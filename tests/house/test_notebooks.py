"""The notebooks stay thin: prose, cells of one to three lines, no stored output but a few.

That they run is checked by nbval, which executes every cell in the same test command. It holds
a cell's output against the stored one where the cell says "Check it by hand"; here each stored
output is held against the hand's working, which asks nothing of the package.
"""

from __future__ import annotations

import ast
import copy
import itertools
import json
import math
import re
import subprocess
import sys
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).resolve().parents[2]
NOTEBOOKS = sorted((REPOSITORY / "notebooks").glob("*.ipynb"))
MOST_LINES = 6
MOST_LINES_OF_MEDIAN_CELL = 3
CHECKED = ["nbval-check-output", "keep_output"]


def cells_of(file: Path) -> list[dict]:
    return json.loads(file.read_text(encoding="utf-8"))["cells"]


def code_cells(file: Path) -> list[dict]:
    return [cell for cell in cells_of(file) if cell["cell_type"] == "code"]


def source_of(cell: dict) -> str:
    return "".join(cell["source"])


def is_checked(cell: dict) -> bool:
    return cell["metadata"].get("tags") == CHECKED


def stored(cell: dict) -> str:
    return "".join(text for output in cell["outputs"] for text in output["text"])


def test_there_are_notebooks():
    assert NOTEBOOKS


@pytest.mark.parametrize("file", NOTEBOOKS, ids=lambda file: file.stem)
class TestNotebook:
    def test_stores_no_output_and_no_widget_state(self, file):
        document = json.loads(file.read_text(encoding="utf-8"))
        assert "widgets" not in document["metadata"]
        for cell in code_cells(file):
            if is_checked(cell):  # plain text: Jupyter trusts nothing less without a signature
                assert [output["output_type"] for output in cell["outputs"]] == ["stream"]
                assert cell["execution_count"] == 1  # nbval compares only what was run
            else:
                assert cell["outputs"] == []
                assert cell["execution_count"] is None

    def test_folds_its_code(self, file):
        for cell in code_cells(file):
            assert cell["metadata"]["jupyter"]["source_hidden"] is True

    def test_cells_only_call_the_package(self, file):
        forbidden = (ast.FunctionDef, ast.ClassDef, ast.For, ast.While, ast.Try, ast.With)
        sizes = []
        for cell in code_cells(file):
            lines = [line for line in source_of(cell).splitlines() if line.strip()]
            sizes.append(len(lines))
            found = list(ast.walk(ast.parse(source_of(cell))))
            assert not [node for node in found if isinstance(node, forbidden)]
            for node in found:
                if isinstance(node, ast.Import | ast.ImportFrom):
                    names = [node.module] if isinstance(node, ast.ImportFrom) else node.names
                    assert all("blendkit" in str(getattr(n, "name", n)) for n in names)
        assert max(sizes) <= MOST_LINES
        assert sorted(sizes)[len(sizes) // 2] <= MOST_LINES_OF_MEDIAN_CELL

    def test_needs_no_network_and_no_path(self, file):
        for cell in code_cells(file):
            assert "http" not in source_of(cell)
            assert "/" not in source_of(cell).replace("g/m", "")

    def test_says_what_it_is_for_and_where_it_stops_being_true(self, file):
        prose = "".join(
            source_of(cell) for cell in cells_of(file) if cell["cell_type"] == "markdown"
        )
        assert prose.startswith("# ")
        assert "Run All Cells" in source_of(cells_of(file)[0])
        assert "## How to read this" in prose
        assert "## Where it stops being true" in prose
        assert "## The same in three lines of code" in prose


def _first_bottle() -> str:
    # 20 drops to the mL: common practice, no published source. The ratios are the example's:
    # 2 : 1 : 2, and within the notes 2 : 1, 2 : 1 and 3 : 1. Largest remainders get the drops.
    drops = round(0.20 * 10 * 20)
    top, middle = drops * 2 // 5, drops * 1 // 5
    base = drops - top - middle
    assert (top, middle, base) == (16, 8, 16)
    shares = {
        "bergamot-fcf": round(top * 2 / 3),  # 10.67
        "petitgrain": round(top / 3),  # 5.33
        "lavender": round(middle * 2 / 3),  # 5.33
        "geranium": round(middle / 3),  # 2.67
        "cedarwood-atlas": base * 3 // 4,
        "patchouli": base // 4,
    }
    return f"{drops} {shares}\n"


def _own_analysis() -> str:
    matched, unknown = 35.2 + 31.0, 2
    return (
        f"2 constituents matched, {matched:.1f} % by mass. {100 - matched:.1f} % is carried as "
        f"unidentified. Not matched ({unknown:.1f} %): moonbeam {unknown} %.\n"
    )


def _sun() -> str:
    # IFRA standards, 51st amendment, as on record in data/limits.csv: 0.4 % and 0.7 %
    bergamot, lime = 0.2 / 0.4, 0.35 / 0.7
    rows = {
        "subject": "share_of_limit",
        "phototoxic oils, each as a share of its own limit": bergamot + lime,
        "Bergamot": bergamot,
        "Lime, expressed": lime,
    }
    width = max(map(len, rows))
    return "".join(f"{name:>{width}} {share:>15}\n" for name, share in rows.items())


def _film() -> str:
    # Alone: n = n0 - K t. Among N0 moles of carrier dn/dt = -K n / (n + N0), which integrates
    # to K t = n0 - n + N0 ln(n0 / n).
    alone = [100 - 2 * minute for minute in (0, 10, 25, 50)]
    half = (100 - 50 + 100 * math.log(100 / 50)) / 2
    assert round(half, 2) == 59.66
    return f"[{'. '.join(f'{left:>3}' for left in alone)}.]\n[50.]\n"


def _three_drops() -> str:
    # densities: the middles of the ranges recorded for the three materials, g/mL
    lavender_ml = 3 / 20
    lavender_g = lavender_ml * (0.880 + 0.895) / 2
    jojoba, coconut = (0.863 + 0.873) / 2, (0.928 + 0.958) / 2
    carrier_g = (10 - lavender_ml) * (3 * jojoba + coconut) / 4
    by_mass = lavender_g / (lavender_g + carrier_g) * 100
    return f"{lavender_ml / 10 * 100:.2f} % by volume, {by_mass:.2f} % by mass\n"


def _packs() -> str:
    # all ways with no more of a pack than covers the need alone
    ways = itertools.product(range(9), range(4), range(2))
    enough = [way for way in ways if 10 * way[0] + 30 * way[1] + 100 * way[2] >= 75]
    prices = {way: 6 * way[0] + 14 * way[1] + 45 * way[2] for way in enough}
    price = min(prices.values())
    ((small, middle, large),) = [way for way in enough if prices[way] == price]
    assert large == 0
    bought = 10 * small + 30 * middle
    return (
        f"Lavender: {middle} × 30 mL, {small} × 10 mL for 75 mL; {price:.2f} EUR, "
        f"{bought - 75} mL left over.\n"
    )


def _coins() -> str:
    # 12 fair coins; fewest seats for each of the two that suffice with nine chances in ten,
    # 40 drops for each seat; of two ways alike, the one with less of the first
    def ways(most: tuple[int, int]) -> int:
        return sum(math.comb(12, n) for n in range(13) if n <= most[0] and 12 - n <= most[1])

    enough = [
        most for most in itertools.product(range(13), repeat=2) if ways(most) >= 0.9 * 2**12
    ]
    most = min(enough, key=lambda each: (sum(each), each))
    assert (most, ways(most)) == ((8, 9), 3718)
    lavender, geranium = (seats * round(0.20 * 10 * 20) for seats in most)
    return (
        f"Lavender: {lavender} drops\nGeranium (rose geranium): {geranium} drops\n"
        f"Both suffice with a chance of {ways(most) / 2**12 * 100:.1f} %\n"
    )


def _recipes() -> str:
    drops = round(0.20 * 10 * 20)
    return f"{sum(drops - top + 1 for top in range(drops + 1))}\n"


BY_HAND = {
    "01_first_bottle": _first_bottle,
    "02_the_shelf": _own_analysis,
    "03_skin_check": _sun,
    "05_why_it_fades": _film,
    "06_make_and_keep": _three_drops,
    "07_make_more": _packs,
    "08_teach_a_class": _coins,
    "09_what_next": _recipes,
}


@pytest.mark.parametrize("file", NOTEBOOKS, ids=lambda file: file.stem)
def test_stored_outputs_are_what_the_hand_works_out(file):
    checked = [stored(cell) for cell in code_cells(file) if is_checked(cell)]
    assert checked == ([BY_HAND[file.stem]()] if file.stem in BY_HAND else [])
    assert ("Check it by hand" in file.read_text(encoding="utf-8")) == bool(checked)


def _next_digit(found: re.Match[str]) -> str:
    return str((int(found[0]) + 1) % 10)


def test_the_test_command_notices_a_changed_number(tmp_path):
    # every checked cell twice in one notebook: as it is, and with one digit changed
    document = json.loads(NOTEBOOKS[0].read_text(encoding="utf-8")) | {"cells": []}
    wrong = []
    for cell in itertools.chain(*map(code_cells, NOTEBOOKS)):
        if "panels" in source_of(cell):
            continue
        document["cells"].append(cell)
        if is_checked(cell):
            changed = copy.deepcopy(cell) | {"id": f"changed-{cell['id']}"}
            changed["outputs"][0]["text"] = re.sub(r"\d", _next_digit, stored(cell), count=1)
            wrong.append(f"Cell {len(document['cells'])}")
            document["cells"].append(changed)
    (tmp_path / "twice.ipynb").write_text(json.dumps(document), encoding="utf-8")
    # the repository's own settings, as a plain `pytest` reads them
    settings = ["-c", str(REPOSITORY / "pyproject.toml"), "--rootdir", str(tmp_path)]
    said = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", *settings, "twice.ipynb"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    ).stdout
    assert re.findall(r"^FAILED twice.ipynb::(Cell \d+)", said, re.MULTILINE) == wrong, said
    assert said.count("Cell outputs differ") >= len(BY_HAND)


def test_a_plain_test_command_runs_every_notebook(request):
    settings = request.config
    assert "notebooks" in settings.getini("testpaths")
    assert "--nbval-lax" in settings.getini("addopts")
