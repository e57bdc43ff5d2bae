"""Import photos again and again, each time in a forked child that is killed at another moment, then once more.

A program of its own (POSIX), so that everything is imported once and forking costs little; `test_crash`
starts it and judges what is left. It prints one JSON document: the steps of an undisturbed import, and for
every disturbed one where its archive lies and what the import after it said.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, NoReturn

from sqlalchemy import Connection, Engine, event

from archive.cli import main
from archive.ingest import importing, metadata, previews, safe_copy, survey  # noqa: F401  # loaded once, not per child
from archive.records.folder import make_archive
from archive.records.sqlite import WRITES

SEED = 17_06_2023
_NAMELESS = getattr(os, "O_TMPFILE", ~0)
importing._BATCH = 2  # so that a few photos make several transactions


class Steps:
    """Everything that an import does to the disk, in order; dies just before one step if told to."""

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


def import_card(archive: Path, card: Path, said: Path, watch: Callable[[], Steps] | None = None) -> NoReturn:
    """Import as a person would by typing; what is printed goes to the file `said`."""
    handle = os.open(said, os.O_CREAT | os.O_TRUNC | os.O_WRONLY)
    os.dup2(handle, 1)
    os.dup2(handle, 2)
    steps, status = watch() if watch else None, 0
    try:
        main.main(["--archive", str(archive), "import", str(card), "--visit", "Wendle Basin, June"])
    except SystemExit as ending:
        status = int(ending.code or 0)
    if steps is not None:
        said.with_suffix(".steps").write_text(json.dumps(steps.seen))
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(status)


def waited_for(child: int) -> dict[str, Any]:
    _, status = os.waitpid(child, 0)
    killed = os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    return {"killed": killed, "status": None if killed else os.waitstatus_to_exitcode(status)}


def disturb(card: Path, work: Path, moments: int) -> dict[str, Any]:
    empty = work / "empty"
    make_archive(empty)

    def fresh(name: str) -> tuple[Path, Path]:
        shutil.copytree(empty, work / name)
        return work / name, work / f"{name}.said"

    archive, said = fresh("undisturbed")
    waited_for(in_a_child(partial(import_card, archive, card, said, partial(Steps, archive))))
    steps = json.loads(said.with_suffix(".steps").read_text())
    archive, said = fresh("timed")
    started = time.monotonic()
    waited_for(in_a_child(partial(import_card, archive, card, said)))
    seconds = time.monotonic() - started

    runs = []

    def complete(name: str, archive: Path, said: Path, cut: dict[str, Any]) -> None:
        ending = waited_for(in_a_child(partial(import_card, archive, card, said)))
        runs.append(
            {"name": name, "archive": str(archive), "cut": cut, **ending, "said": said.read_text("utf-8")}
        )

    for number, (what, _) in enumerate(steps):
        name = f"step {number} before {what}"
        archive, said = fresh(name)
        watch = partial(Steps, archive, die_before=number)
        cut = waited_for(in_a_child(partial(import_card, archive, card, said, watch)))
        complete(name, archive, said, cut)

    chance = random.Random(SEED)
    for number in range(moments):
        name = f"moment {number}"
        archive, said = fresh(name)
        cut = {}
        for _ in range(1 + number % 2):  # every other one is cut off twice
            child = in_a_child(partial(import_card, archive, card, said))
            time.sleep(chance.random() * seconds)
            os.kill(child, signal.SIGKILL)
            cut = waited_for(child)
        complete(name, archive, said, cut)
    return {"steps": steps, "seconds": seconds, "runs": runs}


if __name__ == "__main__":
    print(json.dumps(disturb(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]))))
