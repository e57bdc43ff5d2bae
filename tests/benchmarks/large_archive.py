"""A made archive as large as a lifetime's: by default 100,000 photos, 10,000 subjects and 60,000 sizes.

Its words are made up of syllables, as often used as words of a language are (the n-th in proportion to
1/n), beside the thesaurus's own words of kinds and sizes. The same seed gives the same archive.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate, islice
from pathlib import Path
from typing import Any

from wendle_basin import new_archive, photo_facts

from archive.kinds import carried_kinds
from archive.records import tables as t
from archive.records.archive import Archive
from archive.records.changes import Writer
from archive.records.names import name_key, new_public_id

VIEWS = ("front", "rear", "left side", "right side", "three-quarter", "detail")
GRADES = ("measured", "measured", "measured", "worked out", "published", "guessed")
SHARE_LINKED = 0.6  # of the photos; the others show no subject yet
A_CHANGE = 500  # things that are written in one
_SYLLABLES = [c + v for c in "bcdfghlmnprstvw" for v in ("a", "e", "i", "o", "u", "ar", "en", "ol")]


@dataclass(frozen=True)
class Size:
    """How many of everything."""

    photos: int = 100_000
    subjects: int = 10_000
    sizes: int = 60_000
    visits: int = 400
    places: int = 120
    words: int = 20_000


class Language:
    """Made-up words, the earlier the commoner."""

    def __init__(self, chance: random.Random, words: int) -> None:
        self._chance = chance
        made: dict[str, None] = {}
        while len(made) < words:
            made["".join(chance.choices(_SYLLABLES, k=chance.choice((2, 3, 3, 4))))] = None
        self.words = list(made)
        self._weights = list(accumulate(1 / n for n in range(1, words + 1)))

    def some(self, least: int, most: int) -> str:
        """Return a few words as they are met with in notes."""
        many = self._chance.randint(least, most)
        return " ".join(self._chance.choices(self.words, cum_weights=self._weights, k=many))

    def rare(self) -> str:
        """Return a word as names hold them, any of all."""
        return self._chance.choice(self.words)


def make_large_archive(folder: Path, size: Size | None = None, *, seed: int = 16) -> Archive:
    """Make the archive and open it."""
    size = size or Size()
    chance = random.Random(seed)
    language = Language(chance, size.words)
    archive = new_archive(folder)
    kinds = [kind for kind in carried_kinds() if kind.words and kind.broader not in (None, "thing")]
    with archive.change("Laid out places and visits") as writer:
        places = writer.insert_all(t.place, list(islice(_places(chance, language), size.places)))
        visits = writer.insert_all(t.visit, list(islice(_visits(chance, language, places), size.visits)))
    subjects: list[int] = []
    labels: list[tuple[int, str]] = []
    for many in _portions(size.subjects):
        with archive.change("Wrote down subjects") as writer:
            rows = [_subject(chance, language, chance.choice(kinds), places) for _ in range(many)]
            keys = writer.insert_all(t.subject, [row for row, _ in rows])
            subjects += keys
            labels += [(key, label) for key, (_, own) in zip(keys, rows, strict=True) for label in own]
    for many in _portions(size.photos):
        with archive.change("Brought photos in") as writer:
            _add_photos(writer, chance, language, visits, subjects, many)
    chance.shuffle(labels)
    for many, start in zip(_portions(size.sizes), range(0, size.sizes, A_CHANGE), strict=True):
        with archive.change("Noted sizes") as writer:
            _add_sizes(writer, chance, labels[start : start + many])
    return archive


def _portions(many: int) -> Iterator[int]:
    return (min(A_CHANGE, many - start) for start in range(0, many, A_CHANGE))


def _places(chance: random.Random, language: Language) -> Iterator[dict[str, Any]]:
    for number in range(1_000_000):
        name = f"{language.rare()} wharf {number}".capitalize()
        at = {"latitude": chance.uniform(50.5, 55.5), "longitude": chance.uniform(-4.5, 1.0)}
        yield {
            "public_id": new_public_id("place"),
            "name": name,
            "name_key": name_key(name),
            "notes": None,
            **at,
        }


def _visits(chance: random.Random, language: Language, places: list[int]) -> Iterator[dict[str, Any]]:
    for number in range(1_000_000):
        name = f"{language.rare()} {number}".capitalize()
        yield {
            "public_id": new_public_id("visit"),
            "name": name,
            "name_key": name_key(name),
            "place_id": chance.choice(places),
            "first_day": f"{chance.randint(1995, 2025)}-{chance.randint(1, 12):02d}-{chance.randint(1, 28):02d}",
            "last_day": None,
            "zone": "Europe/London",
            "people": None,
            "access_notes": language.some(0, 8),
            "folder": name,
            "folder_key": name_key(name),
        }


def _subject(
    chance: random.Random, language: Language, kind: Any, places: list[int]
) -> tuple[dict[str, Any], list[str]]:
    """Return a subject's row, and the labels that sizes of it may have."""
    word = chance.choice(kind.words)
    name = f"{language.rare()} {language.rare()} {word} {chance.randint(1, 99_999)}"
    row = {
        "public_id": new_public_id("subject"),
        "name": name.capitalize(),
        "name_key": name_key(name),
        "kind": kind.id,
        "part_of_id": None,
        "place_id": chance.choice(places),
        "maker": language.rare() if chance.random() < 0.5 else None,
        "numbers": str(chance.randint(1, 9999)) if chance.random() < 0.3 else None,
        "era": None,
        "notes": language.some(10, 40),
    }
    labels = [*kind.sizes, "overall length", "overall width", "overall height", "post height", "door width"]
    return row, list(dict.fromkeys(labels))[:9]


def _add_photos(
    writer: Writer,
    chance: random.Random,
    language: Language,
    visits: list[int],
    subjects: list[int],
    many: int,
) -> None:
    visit = chance.choice(visits)
    rows = []
    for _ in range(many):
        file = f"P{chance.randrange(10**8):08d}.JPG"
        at = {"latitude": chance.uniform(50.5, 55.5), "longitude": chance.uniform(-4.5, 1.0)}
        facts = photo_facts(
            file,
            caption=language.some(3, 9),
            keywords=language.some(0, 3).split(),
            taken=f"{chance.randint(1995, 2025)}-{chance.randint(1, 12):02d}-{chance.randint(1, 28):02d}T11:00:00",
            **(at if chance.random() < 0.5 else {}),
        )
        own = {"public_id": new_public_id("photo"), "visit_id": visit, "file_key": name_key(file)}
        rows.append({**facts, **own, "stem_key": name_key(file[:-4])})
    keys = writer.insert_all(t.photo, rows)
    writer.insert_all(
        t.sighting,
        [
            {
                "public_id": new_public_id("sighting"),
                "photo_id": key,
                "subject_id": chance.choice(subjects),
                "view": chance.choice(VIEWS),
                "mirrored": False,
                "region": None,
            }
            for key in keys
            if chance.random() < SHARE_LINKED
        ],
    )


def _add_sizes(writer: Writer, chance: random.Random, labels: list[tuple[int, str]]) -> None:
    dimensions = writer.insert_all(
        t.dimension,
        [
            {
                "public_id": new_public_id("dimension"),
                "subject_id": subject,
                "label": label,
                "label_key": name_key(label),
                "state": "as found",
                "state_key": "as found",
                "span": "plain",
                "quantity": "length",
            }
            for subject, label in labels
        ],
    )
    estimates = []
    for dimension in dimensions:
        value = 10 ** chance.uniform(1.5, 4.2)
        u = max(value * chance.choice((0.001, 0.003, 0.02)), 1.0)
        estimates.append(
            {
                "dimension_id": dimension,
                "quantity": "length",
                "value": value,
                "unit": "mm",
                "value_mm": value,
                "standard_uncertainty": u,
                "low_95": value - 1.96 * u,
                "high_95": value + 1.96 * u,
                "degrees_of_freedom": None,
                "agree": None,
                "grade": chance.choice(GRADES),
                "readings": 1,
                "formulas": 1,
                "warnings": [],
            }
        )
    writer.insert_all(t.estimate, estimates)
