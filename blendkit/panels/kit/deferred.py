"""Deferred work: slow updates that run after the chart is sent."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import ClassVar
from weakref import WeakSet

from IPython import get_ipython


class Deferred:
    """Work that waits until the page has drawn what was sent before it.

    Sending and working share one interpreter, so whatever follows the chart would hold the
    chart up. What waits is replaced by what comes later, and is done in time even while
    someone keeps dragging. Without a kernel it is done at once.
    """

    SECONDS = 0.04  # about what a page takes to draw
    _all: ClassVar[WeakSet[Deferred]] = WeakSet()

    def __init__(self) -> None:
        self._work: Callable[[], None] | None = None
        self._all.add(self)

    def ask(self, work: Callable[[], None]) -> None:
        """Do this soon, in place of what waits."""
        due, self._work = self._work is not None, work
        loop = _loop()
        if loop is None:
            self.finish()
        elif not due:
            loop.call_later(self.SECONDS, self.finish)

    def finish(self) -> None:
        """Do now what waits, if anything does."""
        work, self._work = self._work, None
        if work is not None:
            work()

    @classmethod
    def finish_all(cls) -> None:
        """Do now whatever waits on any panel, so that a press answers what was typed before it.

        A box reports what was typed when it is left, and that may be by the very press.
        """
        for each in tuple(cls._all):
            each.finish()


def _loop() -> asyncio.AbstractEventLoop | None:
    """The loop that brought the change here; None where no kernel runs this.

    A kernel may answer widgets in a thread of their own, and what waits has to stay in it.
    """
    if getattr(get_ipython(), "kernel", None) is None:
        return None
    try:
        return asyncio.get_running_loop()
    except RuntimeError:
        return None
