"""Kinds of instrument with limits to begin with: first guesses, each with its source, until it is checked."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from archive.errors import CannotEstimate
from archive.metrology.checked import positive
from archive.metrology.readings import Limits


@dataclass(frozen=True, slots=True)
class InstrumentKind:
    """A kind of instrument as the data file has it; a person's own figures go before these."""

    id: str
    steady: bool  # keeps its error from day to day
    why: str  # where the limits come from
    also: tuple[str, ...] = ()  # other words for it
    constant_mm: float = 0.0
    per_m_mm: float = 0.0
    resolution_mm: float | None = None  # None: the digits written say it
    constant_on_paper_mm: float = 0.0  # of a drawing: grows with its scale

    def limits(self, drawing_ratio: float | None = None) -> Limits:
        """The limits to begin with, on the real thing.

        Parameters
        ----------
        drawing_ratio : float, optional
            Real thing / drawing; only for what is scaled off paper, and needed there.

        Raises
        ------
        CannotEstimate
            'bad-known' if the drawing's scale is needed and is not given or not above 0.
        """
        constant = self.constant_mm
        if self.constant_on_paper_mm:
            if drawing_ratio is None:
                raise CannotEstimate(
                    "bad-known",
                    f"How far a {self.id} can be trusted depends on its scale. Say it, as in 1:48.",
                )
            constant += self.constant_on_paper_mm * positive("The scale of the drawing", drawing_ratio)
        return Limits(constant, self.per_m_mm / 1000)


@cache
def instrument_kinds() -> dict[str, InstrumentKind]:
    """All kinds by id, in the order of the data file."""
    text = Path(__file__).with_name("instrument_kinds.json").read_text(encoding="utf-8")
    rows = [{**row, "also": tuple(row["also"])} for row in json.loads(text)]
    return {row["id"]: InstrumentKind(**row) for row in rows}


def words_for_kinds() -> list[str]:
    """All words by which people call the kinds."""
    return [word for kind in instrument_kinds().values() for word in (kind.id, *kind.also)]


def kind_called(word: str | None) -> InstrumentKind | None:
    """The kind that a person calls by this word, or None: 'tape' is a steel tape."""
    wanted = " ".join((word or "").casefold().split())
    for kind in instrument_kinds().values():
        if wanted in (kind.id, *kind.also):
            return kind
    return None
