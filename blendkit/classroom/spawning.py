"""A learner's own server: as the seat's own account, in the seat's own folder."""

import os
from collections.abc import Callable
from pathlib import Path

from jupyterhub.spawner import LocalProcessSpawner
from traitlets import Unicode

from blendkit.classroom.accounts import seat_file_of
from blendkit.teaching.hand_in import CLASS_VARIABLE, DROP_BOX_VARIABLE, SEAT_VARIABLE


class SeatSpawner(LocalProcessSpawner):
    """Starts the workbook as the seat's account, with nothing left where others could look."""

    class_folder = Unicode(help="The folder of the class.").tag(config=True)
    drop_box = Unicode(help="The folder that learners hand in to.").tag(config=True)

    def user_env(self, env: dict[str, str]) -> dict[str, str]:
        """Everything a program keeps, and its passing files, inside the seat's folder."""
        home = Path(self.class_folder) / self.user.name
        usual: dict[str, str] = super().user_env(env)
        file = seat_file_of(self.user.name, Path(self.class_folder))
        return usual | {
            **({CLASS_VARIABLE: str(file)} if file.exists() else {}),
            "BLENDKIT_HOME": str(home / "workbook"),
            "TMPDIR": str(home / ".tmp"),
            "JUPYTER_RUNTIME_DIR": str(home / ".run"),  # short: sockets have short names
            SEAT_VARIABLE: self.user.name,
            DROP_BOX_VARIABLE: self.drop_box,
        }

    def make_preexec_fn(self, name: str) -> Callable[[], None]:
        """Become the seat's account, and keep from others what its programs write."""
        become: Callable[[], None] = super().make_preexec_fn(name)

        def prepare() -> None:
            become()
            os.umask(0o077)

        return prepare
