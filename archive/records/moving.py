"""Files follow their rows: where a row says a file lies is where it is moved to.

The transaction that changes `stored_path` commits what is to be moved with it; then each file is linked
to its new name, flushed and unlinked from the old one, and the intent is cleared. Cut off anywhere, the
file is at one of the two places or both, readers try both, and the next writer completes it.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import delete, insert, select

from archive.errors import FileGone, FilesStillToMove
from archive.records import durable
from archive.records import tables as t
from archive.records.changes import Look, Touched, Writer
from archive.records.manifests import write_manifest


@dataclass(frozen=True, slots=True)
class Move:
    """One file to be moved; paths are relative to the archive, with forward slashes."""

    from_path: str
    to_path: str
    sha256: str


def moves_of(rows: Iterable[Touched]) -> list[Move]:
    """Return which files change their place with these rows of files."""
    before: dict[str, list[str]] = defaultdict(list)
    after: dict[str, list[str]] = defaultdict(list)
    for row in rows:
        for side, paths in ((row.before, before), (row.after, after)):
            if side is not None:
                paths[side["sha256"]].append(side["stored_path"])
    moves = []
    for sha256, places in before.items():
        left = [path for path in places if path not in after[sha256]]
        new = [path for path in after[sha256] if path not in places]
        if len(left) > len(new):
            raise ValueError(f"no row would say where the file {left[-1]} lies")
        moves += [Move(old, to, sha256) for old, to in zip(left, new, strict=False)]
    return moves


def intend(writer: Writer, folder: Path) -> bool:
    """Write down, in the open transaction, which files it moves; raises `FileGone` when one is not there."""
    moves = moves_of(writer.touched(*t.ON_DISK))
    for move in moves:
        if not _at(folder, move.from_path).is_file():
            raise FileGone(move.from_path)
    if moves:
        rows = [{"from_path": m.from_path, "to_path": m.to_path, "sha256": m.sha256} for m in moves]
        writer._connection.execute(insert(t.pending_move), rows)  # plumbing, no part of the history
    return bool(moves)


def pending(look: Look) -> list[Move]:
    """Return the moves that are recorded and not yet done."""
    rows = look.all(select(t.pending_move).order_by(t.pending_move.c.id))
    return [Move(row.from_path, row.to_path, row.sha256) for row in rows]


def complete(writer: Writer, folder: Path) -> list[Move]:
    """Do the moves that are recorded and clear them; returns those whose file is at neither place any more.

    Call it in a writer's transaction, so that only one program does it.
    """
    moves = pending(writer)
    touched = sorted({path.rpartition("/")[0] for m in moves for path in (m.from_path, m.to_path)})
    for place in touched:
        durable.sweep_parts(_at(folder, place), durable.MOVED_PART)
    gone = [
        m
        for m in moves
        if not move_file(
            _at(folder, m.from_path), _at(folder, m.to_path), m.sha256, part_begins=durable.MOVED_PART
        )
    ]
    for place in touched:
        write_manifest(writer, folder, place, part_begins=durable.MOVED_PART)
    writer._connection.execute(delete(t.pending_move))
    return gone


def where_now(look: Look, folder: Path, stored_path: str) -> Path:
    """Return where a file lies now: where its row says or, while a move is cut off, where it was before."""
    there = _at(folder, stored_path)
    if there.exists():
        return there
    before = look.value(select(t.pending_move.c.from_path).where(t.pending_move.c.to_path == stored_path))
    return there if before is None else _at(folder, before)


def _at(folder: Path, stored_path: str) -> Path:
    return folder.joinpath(*stored_path.split("/"))


def move_file(source: Path, target: Path, sha256: str, *, part_begins: str = durable.PART) -> bool:
    """Link, flush, unlink; takes what a cut-off move left. Tells whether the file is at its target now.

    Raises `FilesStillToMove`. No other file is ever replaced.
    """
    try:
        _make_folder(target.parent)
        if source.exists():
            _link(source, target, sha256, part_begins)
            durable.flush_folder(target.parent)
            source.unlink()
            durable.flush_folder(source.parent)
        return target.exists()
    except OSError as error:
        raise FilesStillToMove(str(target), error.strerror or str(error)) from error


def _make_folder(folder: Path) -> None:
    if not folder.is_dir():
        folder.mkdir(parents=True, exist_ok=True)
        durable.flush_folder(folder.parent)


def _link(source: Path, target: Path, sha256: str, part_begins: str) -> None:
    """Give the file its second name; takes what a cut-off move left there, never writes over another file."""
    try:
        os.link(source, target)
    except OSError:
        if target.exists():
            with target.open("rb") as file:
                if hashlib.file_digest(file, "sha256").hexdigest() != sha256:
                    raise
            return
        # A disk without second names, or one that says itself what is wrong.
        part = durable.part_beside(target, part_begins)
        shutil.copy2(source, part)
        durable.flush_file(part)
        part.rename(target)
