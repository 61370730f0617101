"""Placing the notebooks: no changed one is replaced, and only ours run by themselves."""

from __future__ import annotations

import json

import nbformat
import pytest
from nbformat.sign import NotebookNotary

from blendkit.foundation.errors import Refused
from blendkit.foundation.keep import CannotKeep
from blendkit.workbook.notebooks import (
    fingerprint,
    place_notebooks,
    put_back,
    shipped_notebooks,
)
from blendkit.workbook.server import lab_arguments

FIRST = "01_first_bottle.ipynb"


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "maker"))
    monkeypatch.setenv("JUPYTER_DATA_DIR", str(tmp_path / "jupyter"))


def changed(text: str, source: str) -> str:
    document = json.loads(text)
    document["cells"][1]["source"] = [source]
    return json.dumps(document)


def test_all_notebooks_are_placed_and_a_second_time_changes_nothing(tmp_path):
    assert place_notebooks(tmp_path) == []
    before = {file.name: file.stat().st_mtime_ns for file in tmp_path.glob("*.ipynb")}
    assert set(before) == set(shipped_notebooks())
    assert place_notebooks(tmp_path) == []
    assert {file.name: file.stat().st_mtime_ns for file in tmp_path.glob("*.ipynb")} == before


def test_a_changed_notebook_stays_and_is_named(tmp_path):
    place_notebooks(tmp_path)
    mine = changed((tmp_path / FIRST).read_text(encoding="utf-8"), "1 + 1")
    (tmp_path / FIRST).write_text(mine, encoding="utf-8")
    (told,) = place_notebooks(tmp_path)
    assert FIRST in told
    assert "blendkit --restore 01" in told
    assert (tmp_path / FIRST).read_text(encoding="utf-8") == mine


def test_a_broken_notebook_stays_too(tmp_path):
    place_notebooks(tmp_path)
    (tmp_path / FIRST).write_text("{", encoding="utf-8")
    assert len(place_notebooks(tmp_path)) == 1
    assert (tmp_path / FIRST).read_text(encoding="utf-8") == "{"


def test_an_unchanged_notebook_of_an_earlier_version_is_brought_up_to_date(
    tmp_path, monkeypatch
):
    older = {FIRST: changed(shipped_notebooks()[FIRST], "# an earlier version")}
    with monkeypatch.context() as patch:
        patch.setattr("blendkit.workbook.notebooks.shipped_notebooks", lambda: older)
        place_notebooks(tmp_path)
    place_notebooks(tmp_path)
    assert (tmp_path / FIRST).read_text(encoding="utf-8") == shipped_notebooks()[FIRST]


def test_only_outputs_that_ship_are_signed(tmp_path):
    def is_trusted():
        with NotebookNotary() as notary:
            return notary.check_signature(nbformat.read(tmp_path / FIRST, as_version=4))

    document = json.loads(shipped_notebooks()[FIRST])
    code = next(cell for cell in document["cells"] if cell["cell_type"] == "code")
    hostile = {"text/html": "<script>document.title = 'run'</script>"}
    code["outputs"] = [
        {"output_type": "display_data", "data": hostile, "metadata": {}},
    ]
    (tmp_path / FIRST).write_text(json.dumps(document), encoding="utf-8")
    assert place_notebooks(tmp_path) == []
    assert not is_trusted()
    (tmp_path / FIRST).unlink()
    place_notebooks(tmp_path)
    assert is_trusted()


def test_output_does_not_count_as_a_change():
    document = json.loads(shipped_notebooks()[FIRST])
    mark = fingerprint(document)
    document["cells"][1]["outputs"] = [{"output_type": "stream", "name": "stdout", "text": "x"}]
    assert fingerprint(document) == mark
    document["cells"][1]["source"] = ["x"]
    assert fingerprint(document) != mark


def test_jupyterlab_keeps_its_token_and_its_address(tmp_path):
    arguments = " ".join(lab_arguments(tmp_path))
    assert "token" not in arguments
    assert "ip=" not in arguments
    page = json.loads((tmp_path / "page_config.json").read_text(encoding="utf-8"))
    assert json.loads(page["blendkitShipped"]) == {
        f"notebooks/{name}": fingerprint(json.loads(text))
        for name, text in shipped_notebooks().items()
    }
    assert page["buildCheck"] is False
    news = json.loads((tmp_path / "overrides.json").read_text(encoding="utf-8"))
    assert news["@jupyterlab/apputils-extension:notification"]["fetchNews"] == "false"


@pytest.mark.parametrize("given", ["1", "01", " 01_first_bottle ", "01_FIRST_bottle.ipynb"])
def test_a_notebook_is_put_back_and_the_changed_one_stays_as_a_copy(tmp_path, given):
    place_notebooks(tmp_path)
    assert put_back(tmp_path, given).name == "01_first_bottle (changed).ipynb"
    (tmp_path / FIRST).write_text("{", encoding="utf-8")  # not even a notebook
    copy = put_back(tmp_path, given)
    assert copy.name == "01_first_bottle (changed) 2.ipynb"
    assert copy.read_text(encoding="utf-8") == "{"
    shipped = shipped_notebooks()[FIRST]
    assert (tmp_path / FIRST).read_text(encoding="utf-8") == shipped
    with NotebookNotary() as notary:
        assert notary.check_signature(nbformat.read(tmp_path / FIRST, as_version=4))
    assert place_notebooks(tmp_path) == []


def test_a_missing_notebook_is_put_back_without_a_copy(tmp_path):
    assert put_back(tmp_path / "new", "02") is None
    placed = {file.name for file in (tmp_path / "new").glob("*.ipynb")}
    assert placed == set(shipped_notebooks())


def test_a_link_is_moved_and_what_it_leads_to_is_left_alone(tmp_path):
    place_notebooks(tmp_path)
    (tmp_path / FIRST).unlink()
    (tmp_path / "elsewhere.txt").write_text("mine", encoding="utf-8")
    (tmp_path / FIRST).symlink_to(tmp_path / "elsewhere.txt")
    assert put_back(tmp_path, "01").is_symlink()
    assert (tmp_path / "elsewhere.txt").read_text(encoding="utf-8") == "mine"
    assert not (tmp_path / FIRST).is_symlink()


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ("11", "needs a number from 01 to 10"),
        ("", 'got ""'),
        ("02_teh_shelf", 'Did you mean "02_the_shelf"?'),
        ("../01_first_bottle.ipynb", "needs a number from 01 to 10"),
        ("/etc/passwd", "needs a number from 01 to 10"),
    ],
)
def test_what_does_not_ship_is_refused_in_words(tmp_path, given, told):
    with pytest.raises(Refused) as refused:
        put_back(tmp_path, given)
    assert told in str(refused.value)
    assert not list(tmp_path.glob("*.ipynb"))


def test_a_changed_notebook_stays_in_its_place_where_none_can_be_put(tmp_path, monkeypatch):
    def full(file, text):
        raise OSError(28, "No space left on device", str(file))

    place_notebooks(tmp_path)
    (tmp_path / FIRST).write_text("{", encoding="utf-8")
    monkeypatch.setattr("blendkit.workbook.notebooks._write", full)
    with pytest.raises(CannotKeep, match="No space left"):
        put_back(tmp_path, "01")
    assert (tmp_path / FIRST).read_text(encoding="utf-8") == "{"
