"""Signing in: a seat and its own pass phrase; nothing is kept in the clear."""

import asyncio
import time
from collections import defaultdict
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from jupyterhub.auth import Authenticator
from traitlets import Unicode

from blendkit.classroom.seats import read_seats, verify_phrase

SECONDS_BETWEEN_TRIES = 2.0


class SeatAuthenticator(Authenticator):
    """Opens a seat to whoever knows its pass phrase.

    After a wrong phrase, the next try at the same seat has to wait a little: long enough that
    guessing is hopeless, short enough that nobody can lock a neighbour out.
    """

    folder = Unicode(help="Where the seats are kept; closed to them.").tag(config=True)

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self._tries: dict[str, asyncio.Lock] = defaultdict(asyncio.Lock)
        self._failed: dict[str, float] = {}

    async def authenticate(self, handler: Any, data: Mapping[str, str]) -> str | None:
        """The seat's name, or None where the pass phrase is another one."""
        kept = read_seats(Path(self.folder))
        seat = data.get("username", "").strip().lower()
        known = seat if seat in kept else ""  # so that made-up names fill no memory
        async with self._tries[known]:
            passed = time.monotonic() - self._failed.get(known, -SECONDS_BETWEEN_TRIES)
            await asyncio.sleep(max(0.0, SECONDS_BETWEEN_TRIES - passed))
            phrase = data.get("password", "")
            right = await asyncio.to_thread(verify_phrase, seat, phrase, kept)
            if right:
                self._failed.pop(known, None)
                return seat
            self._failed[known] = time.monotonic()
        self.log.warning("Wrong pass phrase for %s", known or "a seat that is not there")
        return None
