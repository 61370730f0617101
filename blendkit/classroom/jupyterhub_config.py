"""Settings of JupyterHub for a class; `python -m blendkit class` starts it with this file.

Nothing here depends on how seats become accounts and servers but the two classes named below:
another spawner, such as one that starts a container for each seat, takes their place.
"""

import os
import sys
from pathlib import Path

from blendkit.classroom.sign_in import SeatAuthenticator
from blendkit.classroom.spawning import SeatSpawner
from blendkit.teaching.hand_in import BOX
from blendkit.workbook.notebooks import FIRST, FOLDER

folder = Path(os.environ["BLENDKIT_CLASS"])
hub = folder / "hub"  # closed to the seats, as the list of seats is

c = get_config()  # type: ignore[name-defined]  # noqa: F821 - given by whoever loads this
c.JupyterHub.authenticator_class = SeatAuthenticator
c.SeatAuthenticator.folder = str(hub)
c.SeatAuthenticator.allow_all = True  # whoever knows the phrase of a seat that is kept

c.JupyterHub.spawner_class = SeatSpawner
c.SeatSpawner.class_folder = str(folder)
c.SeatSpawner.drop_box = str(folder / BOX)
c.SeatSpawner.cmd = [sys.executable, "-m", "blendkit.classroom.learner"]
c.SeatSpawner.default_url = f"/doc/tree/{FOLDER}/{FIRST}"
c.SeatSpawner.start_timeout = c.SeatSpawner.http_timeout = 90  # ten may start at once
c.JupyterHub.concurrent_spawn_limit = 4

c.JupyterHub.db_url = f"sqlite:///{hub / 'hub.sqlite'}"
c.JupyterHub.cookie_secret_file = str(hub / "cookie_secret")
c.ConfigurableHTTPProxy.pid_file = str(hub / "proxy.pid")
# the class ends when the command does: nothing goes on running unseen
c.JupyterHub.cleanup_servers = True
c.JupyterHub.active_server_limit = 0
c.JupyterHub.template_vars = {"announcement_login": "Username and password are on your card."}
