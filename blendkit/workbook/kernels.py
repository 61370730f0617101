"""One kernel started ahead of the notebook that will want it.

A kernel takes seconds to start and to import its libraries. One waits, with that behind it, for
the next notebook of the workbook; when it is taken, the next one is started a little later.
Nobody's cells have run in it: it has imported blendkit, as every notebook of ours does first.
"""

import asyncio
from typing import Any
from uuid import uuid4

from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from jupyter_server.utils import ApiPath
from tornado.ioloop import IOLoop
from tornado.web import HTTPError

from blendkit.workbook.notebooks import FOLDER

READY = "from blendkit.panels import get_ready; get_ready(); del get_ready"
PAUSE_SECONDS = 4.0  # after a kernel was taken: its notebook comes first


class KernelAhead(AsyncMappingKernelManager):
    """Jupyter's kernels, of which the one that waits is not listed."""

    _waiting: str | None = None
    _is_ready = _is_closing = False

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self._starting = asyncio.Lock()
        IOLoop.current().add_callback(self._prepare)

    async def start_kernel(  # type: ignore[override]  # Jupyter's own is an alias
        self, *, kernel_id: str | None = None, path: str | None = None, **options: Any
    ) -> str:
        """Hand out the kernel that waits, where it will do; else start one."""
        plain = options.get("kernel_name") in (None, self.default_kernel_name)
        ours = (path or "").strip("/").split("/")[0] == FOLDER
        waiting = self._waiting
        if kernel_id is None and plain and ours and waiting is not None and self._is_ready:
            self._waiting, self._is_ready = None, False
            IOLoop.current().call_later(PAUSE_SECONDS, self._prepare)
            if waiting in self and await self.is_alive(waiting):
                return waiting
        place = None if path is None else ApiPath(path)
        return await super().start_kernel(kernel_id=kernel_id, path=place, **options)

    def kernel_model(self, kernel_id: str) -> dict[str, Any]:
        """Describe a kernel in use; so the one that waits, or starts, is on no list."""
        if kernel_id == self._waiting:
            raise HTTPError(404, f"{kernel_id} waits")
        model: dict[str, Any] = super().kernel_model(kernel_id)
        return model

    async def shutdown_all(self, now: bool = False) -> None:  # type: ignore[override]  # an alias
        """End every kernel, and first let one that is starting start: else it would live on."""
        self._is_closing = True
        async with self._starting:
            await super().shutdown_all(now=now)

    async def _prepare(self) -> None:
        async with self._starting:
            if self._waiting is None and not self._is_closing:
                extra = [f"--IPKernelApp.exec_lines={READY}"]
                waiting = self._waiting = str(uuid4())  # not listed while it starts either
                place = ApiPath(FOLDER)
                await super().start_kernel(kernel_id=waiting, path=place, extra_arguments=extra)
                self._is_ready = True
