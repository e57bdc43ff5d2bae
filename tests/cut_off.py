"""Commands that are killed: run in forked children that die before a step of theirs or at any moment (POSIX).

For programs of their own, in which everything is loaded once and forking costs little.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NoReturn

from sqlalchemy import Connection, Engine, event

from archive.cli import main
from archive.records.sqlite import WRITES

_NAMELESS = getattr(os, "O_TMPFILE", ~0)


class Steps:
    """Everything that a command does to the disk, in order; dies just before one step if told to."""

    def __init__(self, archive: Path, die_before: int | None = None) -> None:
        self.seen: list[tuple[str, str]] = []
        self._archive, self._die_before = str(archive), die_before
        self._opened: list[str] = []
        self._fsync = os.fsync
        os.fsync = self._flush  # type: ignore[assignment]
        event.listen(Engine, "commit", self._commit)
        sys.addaudithook(self._audit)

    def _step(self, what: str, path: str) -> None:
        if len(self.seen) == self._die_before:
            os.kill(os.getpid(), signal.SIGKILL)
        self.seen.append((what, os.path.relpath(path, self._archive)))

    def _audit(self, name: str, args: tuple[Any, ...]) -> None:
        if name == "open" and isinstance(args[0], str | os.PathLike):
            path, mode, flags = os.fspath(args[0]), args[1], args[2]
            if flags & _NAMELESS == _NAMELESS:
                return  # a file without a name: nothing of it can be left behind
            self._opened.append(str(path))
            if (mode and set(mode) & set("wxa+")) or flags & (os.O_WRONLY | os.O_RDWR):
                self._step("open to write", str(path))
        elif name in ("os.rename", "os.link"):
            self._step("name", str(args[1]))
        elif name in ("os.remove", "os.mkdir", "os.rmdir", "os.truncate"):
            self._step(name.removeprefix("os."), str(args[0]))

    def _flush(self, handle: int) -> None:
        inode = os.fstat(handle).st_ino
        path = next(p for p in reversed(self._opened) if os.path.exists(p) and os.stat(p).st_ino == inode)  # noqa: PTH110, PTH116
        self._step("flush", path)
        self._fsync(handle)

    def _commit(self, connection: Connection) -> None:
        if connection.get_execution_options().get(WRITES):
            self._step("commit", self._archive)


def in_a_child(work: Callable[[], None]) -> int:
    """Fork, do the work there, return the child's process id."""
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        try:
            work()
        finally:
            os._exit(70)  # the work ends by itself; coming here is a mistake
    return child


def waited_for(child: int) -> dict[str, Any]:
    """How a child ended: whether it was killed, and its exit status if not."""
    _, status = os.waitpid(child, 0)
    killed = os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    return {"killed": killed, "status": None if killed else os.waitstatus_to_exitcode(status)}


def killed_within(child: int, seconds: float, chance: random.Random) -> dict[str, Any]:
    """Kill a child at a random moment of so many seconds, and tell how it ended: it may have been quicker."""
    time.sleep(chance.random() * seconds)
    os.kill(child, signal.SIGKILL)
    return waited_for(child)


def command(
    archive: Path, words: Sequence[str], said: Path, watch: Callable[[], Steps] | None = None
) -> NoReturn:
    """Do what a person would by typing; what is printed goes to the file `said`, the steps beside it."""
    handle = os.open(said, os.O_CREAT | os.O_TRUNC | os.O_WRONLY)
    os.dup2(handle, 1)
    os.dup2(handle, 2)
    steps, status = watch() if watch else None, 0
    try:
        main.main(["--archive", str(archive), *words])
    except SystemExit as ending:
        status = int(ending.code or 0)
    if steps is not None:
        said.with_suffix(".steps").write_text(json.dumps(steps.seen))
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(status)
