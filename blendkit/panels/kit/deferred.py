"""Deferred work: slow updates that run after the chart is sent."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Generator, Iterator
from typing import ClassVar, TypeVar
from weakref import WeakSet

from IPython import get_ipython

Result = TypeVar("Result")


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
        self._seconds = self.SECONDS
        self._all.add(self)

    def ask(self, work: Callable[[], None], seconds: float = SECONDS) -> None:
        """Do this soon, in place of what waits, and no later than that."""
        due, self._work = self._work is not None, work
        loop = _loop()
        if loop is None:
            self.finish()
        elif not due or seconds < self._seconds:
            self._seconds = seconds
            loop.call_later(seconds, self.finish)

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


class InSteps:
    """Long work done piece by piece, so that the page answers meanwhile and can cancel it.

    Without a kernel it is done at once.
    """

    PIECE_SECONDS, PAUSE_SECONDS = 0.05, 0.01

    def __init__(self) -> None:
        self._steps: Iterator[object] | None = None

    def run(self, steps: Iterator[object]) -> None:
        """Go through an iterator that does the work; what it raises is its own to catch."""
        self.cancel()
        self._steps = steps
        loop = _loop()
        if loop is None:
            for _ in steps:
                pass
            self._steps = None
        else:
            self._piece(loop, steps)

    def cancel(self) -> None:
        """Leave off; the iterator's own clean-up runs."""
        steps, self._steps = self._steps, None
        if isinstance(steps, Generator):
            steps.close()

    def _piece(self, loop: asyncio.AbstractEventLoop, steps: Iterator[object]) -> None:
        until = time.monotonic() + self.PIECE_SECONDS
        while self._steps is steps:
            try:
                next(steps)
            except StopIteration:
                self._steps = None
            if time.monotonic() > until and self._steps is steps:
                loop.call_later(self.PAUSE_SECONDS, self._piece, loop, steps)
                return


class Aside:
    """Long work in a thread, so that the page answers meanwhile; the newest one counts.

    For work that a library does without holding the interpreter. Without a kernel it is done
    at once.

    Parameters
    ----------
    guard : callable
        Wraps what is called back, as `Message.guard` does.
    """

    def __init__(self, guard: Callable[[Callable[[], None]], Callable[..., None]]) -> None:
        self._guard, self._newest = guard, 0

    def run(self, work: Callable[[], Result], then: Callable[[Result], None]) -> None:
        """Do some work, then call back with its result; what it raises goes to the guard."""
        self._newest += 1
        loop, own = _loop(), self._newest

        def ended(result: Callable[[], Result]) -> None:
            if self._newest == own:
                self._guard(lambda: then(result()))()

        if loop is None:
            ended(work)
        else:
            loop.run_in_executor(None, work).add_done_callback(lambda one: ended(one.result))

    def cancel(self) -> None:
        """Pass by the result of what is under way."""
        self._newest += 1


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
