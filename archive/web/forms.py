"""Reading what a form sent."""

from __future__ import annotations

from collections.abc import Mapping

from flask import request

from archive.errors import NotAccepted

_LONGEST = 4000
_LONGEST_LINES = 200_000


def text_of(name: str) -> str | None:
    """Return a field of the form, None when it was left empty."""
    return filled(request.form.get(name, ""))


def long_text_of(name: str) -> str:
    """Return a field of many lines as it was typed, '' when it was left empty."""
    return request.form.get(name, "")[:_LONGEST_LINES]


def asked(name: str) -> str | None:
    """Return a part of the address's question, None when it was left empty."""
    return filled(request.args.get(name, ""))


def filled(text: str) -> str | None:
    """Return what was typed into a field, None when it was left empty."""
    return text[:_LONGEST].strip() or None


def amended(now: Mapping[str, str | None]) -> dict[str, str]:
    """Return the fields of a form that somebody changed, '' for one that was emptied.

    A form carries what each field held when it was shown (`was-NAME`).

    Parameters
    ----------
    now : mapping
        The fields that are looked at, and what the archive holds for each by now.

    Raises
    ------
    NotAccepted
        When one was changed by somebody else since the form was shown, or is too long to be kept whole.
    """
    changed = {}
    for name, value in now.items():
        held = _plain(value or "")
        was, typed = (_plain(request.form.get(field, held)) for field in (f"was-{name}", name))
        if typed in (was, held):
            continue
        if was != held:
            raise NotAccepted(
                f"The {name.replace('_', ' ')} was changed meanwhile, to '{held[:80]}'",
                "Load the page again and put in yours.",
            )
        if len(typed) > _LONGEST:
            raise NotAccepted("One of the texts is too long", f"Keep it under {_LONGEST} letters.")
        changed[name] = typed
    return changed


def _plain(text: str) -> str:
    """A text as browsers send it or as it is held, with one sort of line ending."""
    return text.replace("\r\n", "\n").strip()
