"""Reading what a form sent."""

from __future__ import annotations

from flask import request

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
