"""What a pack says about staying safe with it. The full text goes on paper; nothing here is advice to act on."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Caution:
    """A short heading and what to mind."""

    heading: str
    text: str


USING_THE_SIZES = Caution(
    "These sizes are for making models only",
    "Never use them to make, repair, lift, load, gauge, certify or judge anything full size, "
    "nor to decide whether there is room for something or a safe way in.",
)
MAKING = Caution(
    "When you make the model",
    "The safety data sheet of whoever made your material comes first; this page does not replace it. "
    "Work in moving air, and wear a mask for dust: sand resin and castings wet. Solvents burn.",
)
RESIN = Caution(
    "Resin before it is cured",
    "It can make your skin allergic for good. Wear nitrile gloves and eye protection, wash the parts and "
    "cure them right through, keep it out of drains and away from children.",
)
LOCAL_RULES = Caution(
    "Local rules and licensed people come first",
    "If you go back for more sizes, ask whoever runs the place, and do as their staff say.",
)
_RESIN_PROCESSES = {"sla", "msla", "dlp", "lcd"}


def cautions_for(process: str | None) -> tuple[Caution, ...]:
    """Return the cautions for a pack, with those for resin where the making process may use it.

    An unknown process may be any, so it gets them all.
    """
    named = (process or "").casefold()
    resin = not named.strip() or "resin" in named or not _RESIN_PROCESSES.isdisjoint(named.split())
    return (USING_THE_SIZES, MAKING, *((RESIN,) if resin else ()), LOCAL_RULES)
