"""What is known of an index on disk, signed; and why one that is there may not be opened."""

from __future__ import annotations

import hmac
import json
import zlib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from whoosh import __version__ as library_version

from archive.kinds import carried_kinds
from archive.records import durable
from archive.search.index.signing import signature_of

FORMULAS = 6  # what is indexed and how; another number makes every index anew
_FILE = "state"


@dataclass(frozen=True, slots=True)
class State:
    """What is known of an index on disk."""

    generation: str
    seen: tuple[int, str]  # the number and time of the last change that it holds


class Unusable(Exception):
    """An index may not be opened; its text says what is wrong with it."""


def read_state(home: Path, archive_id: str) -> State:
    """Return what is known of the index in this folder.

    Raises `Unusable` unless this program wrote it here for this archive, in this version, and all files are as
    they were then.
    """
    try:
        told = json.loads((home / _FILE).read_bytes())
        signed, signature = told["signed"], bytes.fromhex(told["signature"])
        if not hmac.compare_digest(signature, _signature(home, signed)):
            raise Unusable("came from elsewhere")
        body = json.loads(signed)
        if body["archive"] != archive_id:
            raise Unusable("came from elsewhere")
        if body["made_by"] != _made_by():
            raise Unusable("was made by another version of Rivetbook")
        if _files_of(home / body["generation"]) != body["files"]:
            raise Unusable("was damaged")
        return State(body["generation"], (body["seen"][0], body["seen"][1]))
    except FileNotFoundError:
        raise Unusable("was damaged" if (home / _FILE).exists() else "was not there") from None
    except (OSError, ValueError, KeyError, TypeError, IndexError):
        raise Unusable("was damaged") from None


def write_state(home: Path, archive_id: str, state: State) -> None:
    """Say what the index in this folder is now."""
    body = {
        "made_by": _made_by(),
        "archive": archive_id,
        "generation": state.generation,
        "seen": list(state.seen),
        "files": _files_of(home / state.generation),
    }
    signed = json.dumps(body)
    told = {"signed": signed, "signature": _signature(home, signed).hex()}
    durable.write_whole(home / _FILE, json.dumps(told).encode())


def spoil_state(home: Path) -> None:
    """Let the index in this folder be opened no more."""
    if (home / _FILE).exists():
        durable.write_whole(home / _FILE, b"not to be trusted")


def _signature(home: Path, signed: str) -> bytes:
    return signature_of(f"{home.resolve()}\n{signed}")


def _made_by() -> list[Any]:
    """Return what an index depends on beside the records; where any of it is another, the index is made anew."""
    return [FORMULAS, list(library_version), *_carried()]


@cache
def _carried() -> tuple[int, int]:
    told = Path(__file__).parent.with_name("words.json").read_bytes()
    kinds = repr([(kind.id, kind.broader, kind.words) for kind in carried_kinds()]).encode()
    return zlib.crc32(told), zlib.crc32(kinds)


def _files_of(generation: Path) -> dict[str, list[int]]:
    """Return every file that the library would open, with its size and the times that a copy does not keep."""
    found = {}
    for path in sorted(generation.iterdir()):
        if path.suffix in (".toc", ".seg"):
            facts = path.stat()
            found[path.name] = [facts.st_size, facts.st_mtime_ns, facts.st_ctime_ns]
    return found
