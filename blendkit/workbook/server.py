"""JupyterLab over the maker's folder: its settings, its start, and what it may run.

Cells run by themselves only where Jupyter trusts a notebook and its source equals, by its
fingerprint, one that this package ships; any other notebook waits for "Run All Cells".
"""

import json
import os
import tempfile
from pathlib import Path

from blendkit.foundation import keep
from blendkit.workbook import notebooks
from blendkit.workbook.notebooks import FIRST, FOLDER

_LAB = Path(__file__).with_name("lab")
_CONTENTS = "blendkit.workbook.contents.NotebooksWithoutWidgetState"
_PUT_BACK = "blendkit.workbook.putting_back"


def lab_arguments(settings: Path) -> list[str]:
    """Options that JupyterLab is started with; writes its settings into a folder.

    Its token stays on and its address on this machine: neither is touched here.
    """
    marks = {
        f"{FOLDER}/{name}": notebooks.fingerprint(json.loads(text))
        for name, text in notebooks.shipped_notebooks().items()
    }
    overrides = (_LAB / "overrides.json").read_text(encoding="utf-8")
    (settings / "overrides.json").write_text(overrides, encoding="utf-8")
    # the prebuilt JupyterLab is whole: no Node program has to look at every start whether it is
    page = {"blendkitShipped": json.dumps(marks), "buildCheck": False}
    (settings / "page_config.json").write_text(json.dumps(page), encoding="utf-8")
    return [
        f"--ServerApp.root_dir={keep.home()}",
        f"--ServerApp.contents_manager_class={_CONTENTS}",
        f"--ServerApp.extra_services={_PUT_BACK}",
        f"--LabApp.default_url=/doc/tree/{FOLDER}/{FIRST}",
        f"--LabApp.app_settings_dir={settings}",
        f"--LabApp.extra_labextensions_path={_LAB / 'labextensions'}",
    ]


def keep_neighbours_out() -> None:
    """Let no kernel started from here import a module that lies beside its notebook.

    A file `pandas.py` in the maker's folder would otherwise run in place of the library.
    Python reads the setting at its start, and IPython keeps to it
    (https://docs.python.org/3/using/cmdline.html#envvar-PYTHONSAFEPATH).
    """
    os.environ["PYTHONSAFEPATH"] = "1"


def open_workbook(extra: list[str]) -> None:
    """Place the notebooks and start JupyterLab; returns when it is closed.

    Parameters
    ----------
    extra : list of str
        Further options for JupyterLab, as typed.
    """
    from jupyterlab.labapp import LabApp

    keep_neighbours_out()
    for sentence in notebooks.place_notebooks(keep.home() / FOLDER):
        print(sentence)  # noqa: T201 - the terminal is this command's page
    with tempfile.TemporaryDirectory() as settings:
        # in a container people often are root, and JupyterLab would only stop with a hint
        root = ["--allow-root"] if getattr(os, "geteuid", lambda: 1)() == 0 else []
        ahead = "--ServerApp.kernel_manager_class=blendkit.workbook.kernels.KernelAhead"
        LabApp.launch_instance([*lab_arguments(Path(settings)), ahead, *root, *extra])
