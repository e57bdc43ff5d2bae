"""What an instrument's readings are corrected by: its limits, those of its kind, and its checks."""

from __future__ import annotations

from dataclasses import replace

from archive.metrology import checks as sums
from archive.metrology.checks import Checked, DayToDay
from archive.metrology.instrument_kinds import InstrumentKind, kind_called
from archive.metrology.readings import InstrumentError, Limits, unchecked
from archive.metrology.readings import reading as read
from archive.records import checks, instruments
from archive.records.changes import Look
from archive.records.things import Check, Instrument
from archive.scales import parse_scale

SOME_DAY = "some day"  # a reading of which nobody noted when it was taken


class Tools:
    """The instruments of an archive, and what is known of the error of each, worked out once."""

    def __init__(self, look: Look) -> None:
        self._by_key = {i.key: i for i in instruments.all_instruments(look)}
        self._by_id = {i.id: i for i in self._by_key.values()}
        self._usual = instruments.usual_limits(look)
        self._checks = checks.checks_by_instrument(look)
        self._checked: dict[tuple[int, str], Checked | None] = {}

    def with_key(self, key: int | None) -> Instrument | None:
        """The instrument of this key; None for none."""
        return None if key is None else self._by_key[key]

    def all(self) -> list[Instrument]:
        """Every instrument, by name."""
        return list(self._by_key.values())

    def called(self, public_id: str) -> Instrument | None:
        """The instrument of this public id; None where the id is another's."""
        return self._by_id.get(public_id)

    def checks_of(self, instrument: Instrument) -> list[Check]:
        """Its checks, the oldest first."""
        return self._checks.get(instrument.key, [])

    def error_of(self, instrument: Instrument, day: str | None) -> InstrumentError | None:
        """What the instrument may be off by on a day; None where nothing at all is known of it."""
        checked = self.known_of(instrument, day)
        return checked.error if checked else None

    def known_of(self, instrument: Instrument, day: str | None) -> Checked | None:
        """What limits and checks say of the instrument on a day; None where there are neither."""
        served = "" if instrument.steady else day or SOME_DAY
        which = instrument.key, served
        if which not in self._checked:
            self._checked[which] = self._work_out(instrument, served)
        return self._checked[which]

    def between_days(self, instrument: Instrument) -> DayToDay:
        """How much the error of a changing instrument differs from day to day."""
        return sums.day_to_day(self._as_sums(instrument), self.limits_of(instrument))

    def kind_of(self, instrument: Instrument) -> InstrumentKind | None:
        """Its kind, with what the person knows to be usual for it; None where the kind is not known."""
        kind = kind_called(instrument.kind)
        return self.usual(kind) if kind else None

    def usual(self, kind: InstrumentKind) -> InstrumentKind:
        """A kind with what the person noted as usual for it in place of what the program begins with."""
        own = self._usual.get(kind.id)
        if own is None:
            return kind
        on_paper = own.limit_constant_mm if kind.constant_on_paper_mm else 0.0
        return replace(
            kind,
            constant_mm=own.limit_constant_mm - on_paper,
            constant_on_paper_mm=on_paper,
            per_m_mm=1000 * own.limit_per_mm,
            resolution_mm=own.resolution_mm,
            why=own.why,
        )

    def limits_of(self, instrument: Instrument) -> Limits | None:
        """Its stated limits, else those its kind begins with; None where its kind is not known either."""
        if instrument.limit_constant_mm is not None:
            return Limits(instrument.limit_constant_mm, instrument.limit_per_mm or 0.0)
        kind = self.kind_of(instrument)
        if kind is None or self.lacks_scale(instrument):
            return None
        return kind.limits(float(parse_scale(instrument.drawn_at).ratio) if instrument.drawn_at else None)

    def lacks_scale(self, instrument: Instrument) -> bool:
        """Whether it is a drawing that has neither a stated limit nor a scale, so that nothing is known of it."""
        kind = self.kind_of(instrument)
        on_paper = kind is not None and kind.constant_on_paper_mm > 0
        return on_paper and instrument.limit_constant_mm is None and instrument.drawn_at is None

    def step_of(self, instrument: Instrument | None, digits_step_mm: float | None) -> float | None:
        """The step that a length was read to, mm: the instrument's own, else the coarser of its kind's and the digits'."""
        if digits_step_mm is None or instrument is None:
            return digits_step_mm
        if instrument.resolution_mm:
            return instrument.resolution_mm
        kind = self.kind_of(instrument)
        return max(digits_step_mm, kind.resolution_mm or 0.0) if kind else digits_step_mm

    def misfit_among_checks(self, instrument: Instrument, day: str | None) -> Check | None:
        """The one check without which the others agree, of those that serve a day; None where none or several would do."""
        serving = [
            check
            for check in self.checks_of(instrument)
            if instrument.steady or (check.taken_on or SOME_DAY) == (day or SOME_DAY)
        ]
        found = [
            left_out
            for left_out in serving
            if len(serving) > 3
            and sums.error_of_steady(
                [self._as_sum(check, instrument) for check in serving if check is not left_out],
                instrument=instrument.id,
                limits=self.limits_of(instrument),
            ).agree
        ]
        return found[0] if len(found) == 1 else None

    def _work_out(self, instrument: Instrument, day: str) -> Checked | None:
        limits, made = self.limits_of(instrument), self._as_sums(instrument)
        if not made:
            return Checked(unchecked(limits, instrument.id, day), checks=0) if limits else None
        if instrument.steady:
            return sums.error_of_steady(made, instrument=instrument.id, limits=limits)
        return sums.error_of_day(made, day, instrument=instrument.id, limits=limits)

    def _as_sums(self, instrument: Instrument) -> list[sums.Check]:
        return [self._as_sum(check, instrument) for check in self.checks_of(instrument)]

    def _as_sum(self, check: Check, instrument: Instrument) -> sums.Check:
        reference = read(
            check.reference_mm,
            of_record=check.id,
            component="reference",
            resolution_mm=check.reference_resolution_mm,
            tolerance_mm=check.reference_tolerance_mm,
            approximate=check.reference_approximate,
        )
        step = self.step_of(instrument, check.reading_resolution_mm) or 0.0
        return sums.Check(check.id, reference, check.reading_mm, step, check.taken_on or SOME_DAY)
