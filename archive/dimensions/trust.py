"""What an instrument's readings are corrected by: its limits, those of its kind, and its checks."""

from __future__ import annotations

from archive.errors import CannotEstimate
from archive.metrology.instrument_kinds import kind_called
from archive.metrology.readings import InstrumentError, Limits, unchecked
from archive.records import instruments
from archive.records.changes import Look
from archive.records.things import Instrument


class Tools:
    """The instruments of an archive, and what is known of the error of each, worked out once."""

    def __init__(self, look: Look) -> None:
        self._by_key = {i.key: i for i in instruments.all_instruments(look)}
        self._errors: dict[tuple[int, str], InstrumentError | None] = {}

    def named_by(self, key: int | None) -> Instrument | None:
        """The instrument of this key; None for none."""
        return None if key is None else self._by_key[key]

    def error_of(self, instrument: Instrument, day: str | None) -> InstrumentError | None:
        """What the instrument may be off by on a day; None where nothing at all is known of it."""
        served = "" if instrument.steady else day or "some day"
        which = instrument.key, served
        if which not in self._errors:
            limits = limits_of(instrument)
            self._errors[which] = unchecked(limits, instrument.id, served) if limits else None
        return self._errors[which]


def limits_of(instrument: Instrument) -> Limits | None:
    """Its stated limits, else those its kind begins with; None where its kind is not known either."""
    if instrument.limit_constant_mm is not None:
        return Limits(instrument.limit_constant_mm, instrument.limit_per_mm or 0.0)
    kind = kind_called(instrument.kind)
    try:
        return kind.limits() if kind else None
    except CannotEstimate:  # a drawing whose scale nobody said
        return None


def step_of(instrument: Instrument | None, digits_step_mm: float | None) -> float | None:
    """The step that a length was read to, mm: the instrument's own, else the coarser of its kind's and the digits'."""
    if digits_step_mm is None or instrument is None:
        return digits_step_mm
    if instrument.resolution_mm:
        return instrument.resolution_mm
    kind = kind_called(instrument.kind)
    return max(digits_step_mm, kind.resolution_mm or 0.0) if kind else digits_step_mm
