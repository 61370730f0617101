"""The defect log: tracebacks in the maker's folder, for whoever mends the workbook.

Jupyter drops what a callback raises, and a panel shows no traceback. The log keeps it, readable
by its owner alone: a traceback may quote what was typed.
"""

import contextlib
import os
import platform
import traceback
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

from blendkit.foundation import keep

FOLDER = "log"
MOST_BYTES = 200_000
_MOST_CHARACTERS = 20_000


def in_one_line(error: BaseException) -> str:
    """Kind and message of an exception, even of one that cannot print itself.

    Examples
    --------
    >>> in_one_line(ZeroDivisionError("division by zero"))
    'ZeroDivisionError: division by zero'
    """
    return "".join(traceback.format_exception_only(error)).strip()[:300]


def record_defect(error: BaseException) -> Path | None:
    """Append the traceback of an exception to the defect log. Never raises.

    The log has one predecessor: at `MOST_BYTES` it becomes ``defects.old.log``.

    Parameters
    ----------
    error : BaseException

    Returns
    -------
    Path or None
        The log; None where it cannot be written.
    """
    try:
        file = keep.home() / FOLDER / "defects.log"
        file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        _make_room(file)
        # one write at the end of the file, so that entries of two kernels do not mix
        handle = os.open(file, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
        with os.fdopen(handle, "wb", buffering=0) as log:
            log.write(_entry(error).encode("utf-8", "backslashreplace"))
    except Exception:
        return None
    return file


def where_recorded(error: BaseException) -> str:
    """Record a defect and return the sentence that says where its details are."""
    file = record_defect(error)
    return f"Details: {file}" if file else "The details could not be written to the log."


def _make_room(file: Path) -> None:
    with contextlib.suppress(FileNotFoundError):  # no log yet, or another kernel made room
        if file.stat().st_size > MOST_BYTES:
            file.replace(file.with_name("defects.old.log"))


def _entry(error: BaseException) -> str:
    """One entry: moment, versions and traceback, whose middle is cut when very long."""
    text = "".join(traceback.format_exception(error))
    if len(text) > _MOST_CHARACTERS:
        half = _MOST_CHARACTERS // 2
        text = f"{text[:half]}\n[…]\n{text[-half:]}"
    now = datetime.now(UTC).isoformat(timespec="seconds")
    return f"{now} blendkit {version('blendkit')}, Python {platform.python_version()}\n{text}\n"
