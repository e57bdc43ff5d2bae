"""Where the doubt of a size comes from, by share: '62 % rounding of the reading, 30 % the tape's offset'."""

from __future__ import annotations

from archive import wording
from archive.dimensions.trust import Tools
from archive.metrology.sources import Doubtful, Source
from archive.records.things import Instrument


def doubt_in_words(known: Doubtful, tools: Tools) -> str:
    """Return the sources of a figure's doubt by share, the largest first; '' where it has none."""
    return wording.share_list(causes_of_doubt(known, tools))


def causes_of_doubt(known: Doubtful, tools: Tools) -> tuple[tuple[str, float], ...]:
    """Return the sources of a figure's doubt in words, each with its share (0 to 1), the largest first."""
    return wording.causes((_kind(source), _whose(source, tools), share) for source, share in known.shares())


def unchecked_among(known: Doubtful, tools: Tools) -> list[Instrument]:
    """Return the instruments that a figure leans on and that nobody has checked, the weightiest first."""
    found = [tools.called(source.of_record) for source, _ in known.shares()]
    return [i for i in dict.fromkeys(found) if i is not None and not tools.checks_of(i)]


def _kind(source: Source) -> str:
    return "reference" if source.component == "reference" else source.kind


def _whose(source: Source, tools: Tools) -> str:
    instrument = tools.called(source.of_record)
    return the(instrument.name) if instrument else ""


def the(name: str) -> str:
    """'the long tape', but 'Harriet's tape' as it is."""
    return (
        name if name[:1].isupper() or name.casefold().startswith(("the ", "my ", "our ")) else f"the {name}"
    )
