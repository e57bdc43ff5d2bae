"""A made archive of 500 subjects to judge searches by: those of `subjects.json` among many that are like them.

The others are put together from the kinds' own words and from places, makers, materials and remarks of an
invented district, always the same ones.
"""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent / "search" / "relevance"
SUBJECTS = 500

PLACES = ["Ashlock", "Birchen Ferry", "Coldwell", "Dunmere", "Eastholt", "Fernlea", "Marlpit", "Ottersby"]
QUALITIES = ["old", "north", "south", "upper", "lower", "small", "large", "disused", "mended", "spare"]
MAKERS = ["Hask & Rowe", "Dunmere Ironworks", "Tolliver Bros", "Marl Foundry"]
MATERIALS = ["oak", "pitch pine", "wrought iron", "cast iron", "brick", "sheet steel", "sandstone", "larch"]
REMARKS = [
    "Seen from the road only.",
    "Repainted green some years ago.",
    "Rust along the lower edge.",
    "Bolts renewed on the near side.",
    "Moss on the north face.",
    "The owner keeps a key.",
    "Stands beside the yard gate.",
    "One corner knocked by a cart.",
    "Rope marks at hand height.",
    "A lamp hung here once.",
]


def told_subjects() -> list[dict[str, Any]]:
    """Return the subjects that the searches look for."""
    told: list[dict[str, Any]] = json.loads((FOLDER / "subjects.json").read_text(encoding="utf-8"))
    return told


def all_subjects(kinds: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return 500 subjects: the told ones first. `kinds` are rows of the thesaurus (id, name, gb, us, sizes)."""
    chance = random.Random(500)
    subjects = told_subjects()
    names = {s["name"] for s in subjects}
    leaves = [k for k in kinds if k["gb"] and k["broader"] != "thing"]
    while len(subjects) < SUBJECTS:
        kind = chance.choice(leaves)
        word = chance.choice(kind["gb"])
        name = f"{chance.choice(PLACES)} {chance.choice(QUALITIES)} {word}"
        if name not in names:
            names.add(name)
            subjects.append({"name": name, "kind": kind["id"], **_facts(kind, chance)})
    return subjects


def _facts(kind: dict[str, Any], chance: random.Random) -> dict[str, Any]:
    labels = kind["sizes"] or ["overall length", "overall width", "overall height"]
    sizes = {label: f"{round(10 ** chance.uniform(2.2, 3.95))} mm" for label in labels[:3]}
    return {
        "maker": chance.choice([*MAKERS, None, None]),
        "place": chance.choice(PLACES),
        "notes": f"Of {chance.choice(MATERIALS)}. {' '.join(chance.sample(REMARKS, 2))}",
        "sizes": sizes,
        "captions": [chance.choice(REMARKS)],
    }
