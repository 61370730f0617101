"""The built wheel, installed elsewhere, still finds its tables, pages and notebooks."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder]
    subprocess.run([*command, REPOSITORY], check=True, capture_output=True)
    return next(folder.glob("*.whl"))


def test_the_wheel_holds_data_pages_and_scripts(wheel):
    names = zipfile.ZipFile(wheel).namelist()
    for wanted in (
        "blendkit/data/oils.csv",
        "blendkit/showing/bottle/pages/bench.html",
        "blendkit/panels/kit/chart_view.js",
        "blendkit/panels/kit/vega-lite-6.4.js",
        "blendkit/panels/kit/vega-licences.txt",
        "blendkit/showing/skin/charts.json",
        "blendkit/notebooks/01_first_bottle.ipynb",
    ):
        assert wanted in names


def test_every_table_reads_from_the_installed_wheel(wheel, tmp_path):
    zipfile.ZipFile(wheel).extractall(tmp_path / "installed")
    program = (
        "import blendkit, pathlib\n"
        "from blendkit.foundation import data\n"
        "assert 'installed' in blendkit.__file__, blendkit.__file__\n"
        "print(sum(len(data.table(name)) for name in data.TABLES))\n"
    )
    # -P keeps the working folder off the path; the wheel goes before the checkout
    done = subprocess.run(
        [sys.executable, "-P", "-c", f"import sys; sys.path.insert(0, 'installed')\n{program}"],
        cwd=tmp_path, check=True, capture_output=True, text=True,
    )  # fmt: skip
    assert int(done.stdout) > 1000


def test_no_code_lies_among_the_data():
    # a .py file there would turn the folder into a package and break editable installs
    assert list((REPOSITORY / "data").rglob("*.py")) == []
