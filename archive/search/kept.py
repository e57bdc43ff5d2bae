"""Searches kept by name: to keep one, ask it again, add to it, and forget it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from archive.errors import NotAccepted
from archive.records import kept_searches as records
from archive.records.archive import Archive
from archive.records.names import clean_name
from archive.records.things import KeptSearch


def check_name(name: str) -> None:
    """Raise `NotAccepted` for what is no name to keep a search by."""
    if not clean_name(name):
        raise NotAccepted("A kept search needs a name", "Say it with --keep-as NAME.")


def keep_search(archive: Archive, name: str, asked: Mapping[str, Any]) -> str:
    """Keep a search by a name; `asked` are arguments of `find`. Returns what to tell the person.

    Raises `NotAccepted` for an empty search or name.
    """
    check_name(name)
    told = {condition: value for condition, value in asked.items() if value}
    if not told:
        raise NotAccepted("There is nothing in that search to keep", "Say what to find: some words, a size.")
    with archive.change(f"Kept the search '{name}'") as writer:
        replaced = records.keep_search(writer, name, told)
    instead = " in place of the one that had this name" if replaced else ""
    return f"This search is kept as '{name}'{instead}."


def kept_searches(archive: Archive) -> list[KeptSearch]:
    """Return the searches that are kept, by name."""
    with archive.look() as look:
        return records.all_kept_searches(look)


def asked_again(archive: Archive, name: str, more: Mapping[str, Any]) -> dict[str, Any]:
    """Return the arguments of `find` for a kept search, with more words and conditions added to it.

    What there can be but one of (a kind, a time) takes the kept one's place. Raises `RecordNotFound`.
    """
    with archive.look() as look:
        asked = dict(records.kept_search_named(look, name).asked)
    for condition, value in more.items():
        held = asked.get(condition)
        if condition == "words":
            asked[condition] = f"{held or ''} {value}".strip()
        elif condition in _MANY:
            asked[condition] = [*(held or ()), *value]
        elif value or held is None:
            asked[condition] = value
    return asked


_MANY = ("sizes", "model_sizes", "ratios", "has")


def forget_search(archive: Archive, name: str) -> KeptSearch:
    """Forget a search; it can be undone. Raises `RecordNotFound`."""
    with archive.change(f"Forgot the search '{name}'") as writer:
        kept = records.kept_search_named(writer, name)
        records.forget_search(writer, kept)
    return kept
