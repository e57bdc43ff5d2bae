"""What a size's label says of the part that it is of: labels are 'part measure', as the thesaurus lists them."""

from __future__ import annotations

from itertools import takewhile

# 'length over walls', 'wall height above plinth': what follows says from where to where, not of what.
_PREPOSITIONS = frozenset({"above", "across", "at", "between", "below", "from", "of", "over", "to"})
_WHOLE = "overall"


def part_of(label: str) -> str:
    """Return the part: 'door' of 'door height'; '' where it is of the whole: 'length over walls', 'overall height'."""
    words = list(takewhile(lambda word: word not in _PREPOSITIONS, label.split()))
    part = " ".join(words[:-1])
    return "" if part == _WHOLE else part
