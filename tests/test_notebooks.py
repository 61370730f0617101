"""The notebooks stay thin: prose, cells of one to three lines, no stored output.

That they run is checked by nbval, which executes every cell in the same test command.
"""

from __future__ import annotations

import ast
import json
from pathlib import Path

import pytest

FOLDER = Path(__file__).resolve().parent.parent / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
MOST_LINES = 6
MOST_LINES_OF_MEDIAN_CELL = 3


def code_cells(file: Path) -> list[dict[str, object]]:
    cells = json.loads(file.read_text(encoding="utf-8"))["cells"]
    return [cell for cell in cells if cell["cell_type"] == "code"]


def source_of(cell: dict[str, object]) -> str:
    return "".join(cell["source"])


def test_there_are_notebooks():
    assert NOTEBOOKS


@pytest.mark.parametrize("file", NOTEBOOKS, ids=lambda file: file.stem)
class TestNotebook:
    def test_stores_no_output_and_no_widget_state(self, file):
        document = json.loads(file.read_text(encoding="utf-8"))
        assert "widgets" not in document["metadata"]
        for cell in code_cells(file):
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
        cells = json.loads(file.read_text(encoding="utf-8"))["cells"]
        prose = "".join(source_of(cell) for cell in cells if cell["cell_type"] == "markdown")
        assert prose.startswith("# ")
        assert "Run All Cells" in source_of(cells[0])
        assert "## How to read this" in prose
        assert "## Where it stops being true" in prose
