"""A power cut, played through: writes that were not flushed are lost, torn or kept by chance.

`strace` lists in order each write, flush and change of names by a process that taps at the
bench; from that list any moment can be built again, with what the disk is bound to have then:

- what was written and then flushed (fsync, fdatasync) is there;
- of each later write, any of its sectors of 512 bytes may be there or not, in any order;
- a name that was made or removed counts from the flush of its folder on; before that, some
  number of the first of such changes may have been kept.

What this does not try: a disk that lies about its flushes, or damages what it wrote before.
"""

from __future__ import annotations

import random
import re
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

SECTOR = 512
CALLS = "openat,close,pwrite64,write,ftruncate,fsync,fdatasync,unlink,rename,link,dup,dup2"
_LINE = re.compile(r"\d+ +(\w+)\((.*)\) += (-?\d+)")
_TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')
TAPS = """
import os, sys
from pathlib import Path
from blendkit.journal.records import Session
from blendkit.journal.store import open_journal
journal = open_journal(Path(sys.argv[1]))
session = journal.all(Session)[0]
os.write(1, b"begun\\n")
for number in range(int(sys.argv[2])):
    os.write(1, journal.log(session, "added", {"number": number}).id.encode() + b"\\n")
    if number % 5 == 0:
        kept = journal.new_blend("Quay (invented)", {"oils": ["x" * 9000]})
        os.write(1, kept.id.encode() + b"\\n")
"""


@dataclass
class Disk:
    """A file: what is surely on the disk, and what was written since the last flush."""

    sure: bytearray
    waiting: list[tuple[int, bytes | None]] = field(default_factory=list)

    def flush(self) -> None:
        for at, data in self.waiting:
            put(self.sure, at, data)
        self.waiting = []

    def after_a_cut(self, chance: random.Random) -> bytes:
        content = bytearray(self.sure)
        for at, data in self.waiting:
            if data is None:
                if chance.random() < 0.5:
                    put(content, at, None)
                continue
            way = chance.choice(("lost", "kept", "torn"))
            for start in range(0, len(data), SECTOR):
                if way == "kept" or (way == "torn" and chance.random() < 0.5):
                    put(content, at + start, data[start : start + SECTOR])
        return bytes(content)


def put(content: bytearray, at: int, data: bytes | None) -> None:
    """Write, or cut off or lengthen to a size where there are no data."""
    end = at if data is None else at + len(data)
    if len(content) < end:
        content.extend(bytes(end - len(content)))
    if data is None:
        del content[at:]
    else:
        content[at:end] = data


def trace(home: Path, taps: int, there: Path) -> list[str]:
    """Calls of a process that taps so often, one a line."""
    file = there / "trace"
    command = ["strace", "-f", "-xx", "-s", "100000", "-e", f"trace={CALLS}", "-o", str(file)]
    command += [sys.executable, "-c", TAPS, str(home), str(taps)]
    subprocess.run(command, check=True, capture_output=True, cwd=Path(__file__).parents[2])
    return file.read_text(encoding="utf-8").splitlines()


class Played:
    """A folder's files as the calls up to some moment leave them.

    Parameters
    ----------
    home : Path
        The folder as it was before; all of it counts as flushed.
    is_flushing : bool, optional
        False to take no notice of flushes, so that a loss has to be found.
    """

    def __init__(self, home: Path, is_flushing: bool = True) -> None:
        self.home, self.is_flushing = str(home), is_flushing
        self.files = {
            str(file): Disk(bytearray(file.read_bytes()))
            for file in home.iterdir()
            if file.is_file()
        }
        self.names = dict(self.files)
        self.new_names: list[tuple[str, Disk | None]] = []
        self.open: dict[str, Disk | str] = {"1": "answers"}
        self.acknowledged: set[str] = set()
        self.flushes = 0

    def play(self, line: str) -> None:
        found = _LINE.match(line)
        if found is None or found[3].startswith("-"):
            return
        call, arguments, result = found.groups()
        texts = [bytes.fromhex(hexed.replace("\\x", "")) for hexed in _TEXT.findall(arguments)]
        handle = arguments.split(",")[0].strip()
        if call == "openat":
            self._open(texts[0].decode(), arguments, result)
        elif call == "close":
            self.open.pop(handle, None)
        elif call in ("unlink", "rename", "link"):
            self._name(call, [text.decode() for text in texts])
        elif call == "write" and self.open.get(handle) == "answers":
            self.acknowledged |= set(texts[0].decode().split()) - {"begun"}
        else:
            self._write(call, self.open.get(handle), arguments, texts)

    def _open(self, path: str, arguments: str, handle: str) -> None:
        if path == self.home:
            self.open[handle] = "folder"
        elif str(Path(path).parent) == self.home:
            if path not in self.files:
                self.files[path] = Disk(bytearray())
                self.new_names.append((path, self.files[path]))
            self.open[handle] = self.files[path]
            assert "O_APPEND" not in arguments

    def _name(self, call: str, paths: list[str]) -> None:
        if str(Path(paths[-1]).parent) != self.home:
            return
        file = self.files.get(paths[0])
        if call in ("unlink", "rename"):
            self.files.pop(paths[0], None)
            self.new_names.append((paths[0], None))
        if call != "unlink" and file is not None:
            self.files[paths[1]] = file
            self.new_names.append((paths[1], file))

    def _write(
        self, call: str, file: Disk | str | None, arguments: str, texts: list[bytes]
    ) -> None:
        if call in ("fsync", "fdatasync"):
            self.flushes += 1
            if self.is_flushing and file == "folder":
                for name, made in self.new_names:
                    self._give(self.names, name, made)
                self.new_names = []
            elif self.is_flushing and isinstance(file, Disk):
                file.flush()
        elif isinstance(file, Disk) and call == "pwrite64":
            file.waiting.append((int(arguments.rsplit(",", 1)[1]), texts[0]))
        elif isinstance(file, Disk) and call == "ftruncate":
            file.waiting.append((int(arguments.rsplit(",", 1)[1]), None))
        else:
            assert not isinstance(file, Disk), f"{call} is not played"

    @staticmethod
    def _give(names: dict[str, Disk], name: str, made: Disk | None) -> None:
        if made is None:
            names.pop(name, None)
        else:
            names[name] = made

    def cut(self, chance: random.Random, target: Path) -> None:
        """Leave in a folder what the disk has after a power cut at this moment."""
        names = dict(self.names)
        for name, made in self.new_names[: chance.randint(0, len(self.new_names))]:
            self._give(names, name, made)
        target.mkdir()
        for name, file in names.items():
            (target / Path(name).name).write_bytes(file.after_a_cut(chance))
