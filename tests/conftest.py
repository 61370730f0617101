"""What every test shares."""

import sys

import pytest
from hypothesis import settings

from tests.tools.truth import (  # noqa: F401 - pytest finds its hooks and fixtures here
    beside_published,
    mark_published,
    pytest_addoption,
    pytest_sessionfinish,
)

# a deadline would judge the machine and not the code: benchmarks are kept apart from tests
settings.register_profile("blendkit", deadline=None)
settings.load_profile("blendkit")

# files that take longest; whatever is here begins first, so that no process waits at the end
# for another one (pyproject.toml keeps pytest-xdist from sorting by the number of tests)
LONGEST = ("test_every_notebook_page.py",)


def pytest_collection_modifyitems(items):
    mark_published(items)
    items.sort(key=_place)


def _place(item):
    is_page = "browser" in item.path.parts
    return (item.path.name not in LONGEST, not is_page, item.path.suffix != ".ipynb")


@pytest.fixture
def own_folder(tmp_path, monkeypatch, request):
    """A maker's folder for one test alone; the panels let go of a journal in it afterwards.

    A defect that a panel caught fails the test, even where its message was covered up later.
    """
    folder = tmp_path / "maker"
    monkeypatch.setenv("BLENDKIT_HOME", str(folder))
    yield folder
    panels = sys.modules.get("blendkit.keeping.open_store")
    if panels:
        panels.let_go()
    log = folder / "log" / "defects.log"
    if log.exists() and not request.node.get_closest_marker("defect"):
        pytest.fail(log.read_text(encoding="utf-8"))
