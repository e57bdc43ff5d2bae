"""What counts for more when words are found: the subject's name over its kind, the kind over its notes.

All that is written about a subject is one text whose words carry the weight of where they stand, scored
by BM25F in its simple form (Robertson, Zaragoza and Taylor 2004, CIKM, 42-49): weighted counts are added
up before they saturate, so that a word in the name and in the notes is not counted as two finds. The
length of a text does not count against it (b = 0): much noted is not worse. What is better covered
weighs up to a fifth more, which decides among equals and never lifts notes over a name.
"""

from __future__ import annotations

NAME = 6.0
NAME_SHARE = 6.0  # more for each word of a short name: 'wharf crane' before 'wharf crane shed door'
NUMBERS = 6.0
KIND = 4.0
BROADER_KIND = 2.0
MAKER = 3.0
PLACE = 2.0
PART = 2.0
ERA = 2.0
SIZE_LABEL = 1.5
NOTES = 1.0
CAPTION = 1.0
FILE_NAME = 1.0
VISIT = 1.0

SATURATION = 4.0  # k1: at this weight a word counts for half of the most that it can
# Where nothing has all the words, having more of them says more than where they stand.
SATURATION_OF_PART = 0.25

OTHER_WORD = 0.8  # a word of the other side of the Atlantic, beside the person's own
PURPOSE = 0.5  # what is used for what the word says
KIN = 0.5  # what is of the same broader kind as the thing named
BEGINNING = 0.6  # a word that only begins with what was typed
_AGAIN = 0.25  # each further time that a word stands in the same text, up to four times
_COVERED = 0.2


def weight_of_repeats(count: int) -> float:
    """Return what a word that stands `count` times in one text weighs against one that stands there once."""
    return 1.0 + _AGAIN * min(count - 1, 4)


def name_weight(words: int) -> float:
    """Return the weight of each word of a name of so many words."""
    return NAME + NAME_SHARE / max(words, 1)


def coverage_boost(views: int, known_sizes: int) -> float:
    """Return by how much a subject weighs more for being well covered: views photographed, sizes known by measuring."""
    return 1.0 + _COVERED * (1.0 - 1.0 / (1.0 + views / 4 + known_sizes / 6))
