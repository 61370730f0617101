"""One learner's server: notebooks placed in the learner's folder, then JupyterLab over it.

Started by the hub, as the learner's own account: `python -m blendkit.classroom.learner`.
"""

import os
import sys
import tempfile
from pathlib import Path

from blendkit.foundation import keep
from blendkit.workbook.notebooks import FOLDER, place_notebooks
from blendkit.workbook.server import keep_neighbours_out, lab_arguments

# Ports on the own machine are open to every account, and what a kernel shows goes out on one
# of them unasked; sockets in a closed folder are not. Terminals are of no use to a class.
CLOSED_TO_OTHERS = ("--KernelManager.transport=ipc", "--ServerApp.terminals_enabled=False")


def main() -> None:
    """Place the notebooks and start the server; returns when it is closed."""
    from jupyterhub.singleuser import main as serve

    Path(os.environ.get("TMPDIR", tempfile.gettempdir())).mkdir(exist_ok=True)
    keep_neighbours_out()
    place_notebooks(keep.home() / FOLDER)
    with tempfile.TemporaryDirectory() as settings:
        sys.argv += [*lab_arguments(Path(settings)), *CLOSED_TO_OTHERS]
        serve()


if __name__ == "__main__":
    main()
