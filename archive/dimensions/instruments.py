"""Instruments as use cases: listed with what is known of them, put right, and what is usual for their kinds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from archive.dimensions.estimates import recompute
from archive.dimensions.trust import Tools
from archive.errors import NotAccepted, RecordNotFound
from archive.metrology.instrument_kinds import (
    InstrumentKind,
    instrument_kinds,
    kind_called,
    words_for_kinds,
)
from archive.records import checks, instruments, sizes
from archive.records.archive import Archive
from archive.records.changes import Writer
from archive.records.entering import check_drawn_at, step_and_limit
from archive.records.names import near_names
from archive.records.things import Dimension, Instrument, UsualLimit


@dataclass(frozen=True, slots=True)
class InstrumentLine:
    """An instrument with how often it was checked; `usual` is what its kind begins with, where it has no limit."""

    instrument: Instrument
    checks: int
    usual: InstrumentKind | None


@dataclass(frozen=True, slots=True)
class PutRight:
    """What a change of instruments did: those that it touched, and the sizes that were worked out anew."""

    instruments: tuple[Instrument, ...]
    sizes: tuple[Dimension, ...]


def instrument_lines(archive: Archive) -> list[InstrumentLine]:
    """Return every instrument, by name."""
    with archive.look() as look:
        tools = Tools(look)
        return [
            InstrumentLine(
                each,
                len(tools.checks_of(each)),
                tools.kind_of(each) if each.limit_constant_mm is None else None,
            )
            for each in tools.all()
        ]


def kinds_of_instrument(archive: Archive) -> list[InstrumentKind]:
    """Return the kinds of instrument with the limits that they begin with, the person's own where noted."""
    with archive.look() as look:
        tools = Tools(look)
        return [tools.usual(kind) for kind in instrument_kinds().values()]


def told_of_kind(instrument: Instrument) -> list[str]:
    """What to tell where neither an instrument's limit nor its kind says how far off it may be."""
    if instrument.limit_as_written or kind_called(instrument.kind):
        return []
    said = []
    if instrument.kind:
        near = near_names(instrument.kind, words_for_kinds())
        perhaps = f" Perhaps you mean {' or '.join(repr(name) for name in near)}." if near else ""
        said = [f"'{instrument.kind}' is no kind of instrument that Rivetbook knows.{perhaps}"]
    return [
        *said,
        "Nobody said how far off it may be, so its readings count as right to their step. Say it with: "
        f'rivetbook instrument amend "{instrument.name}" --limit "± 2 mm", or with a --kind that '
        "'rivetbook instrument kinds' lists.",
    ]


def amend_instrument(
    archive: Archive,
    instrument: str,
    *,
    name: str | None = None,
    kind: str | None = None,
    resolution: str | None = None,
    limit: str | None = None,
    steady: bool | None = None,
    drawn_at: str | None = None,
    notes: str | None = None,
) -> PutRight:
    """Put in other facts of an instrument ('' clears one), and work out anew all sizes that it took.

    Raises
    ------
    RecordNotFound, NameTaken, LengthNotUnderstood, ScaleNotUnderstood, NotAccepted
        Nothing is saved then.
    """
    read = step_and_limit(resolution, limit)
    facts: dict[str, str | float | bool | None] = {}
    if name is not None:
        facts["name"] = name
    if kind is not None:
        facts["kind"] = kind or None
    if resolution is not None:
        facts["resolution_mm"] = read["resolution_mm"]
    if limit is not None:
        facts |= {
            "limit_as_written": read["limit_as_written"],
            "limit_constant_mm": read["limit_constant_mm"],
            "limit_per_mm": read["limit_per_mm"],
        }
    if steady is not None:
        facts["steady"] = steady
    if notes is not None:
        facts["notes"] = notes or None
    with archive.change() as writer:
        tool = instruments.instrument_named(writer, instrument)
        writer.sentence = f"Amended the instrument {tool.name}"
        if drawn_at is not None:
            facts["drawn_at"] = check_drawn_at(drawn_at, kind or tool.kind) if drawn_at else None
        if not facts:
            raise NotAccepted("It was not said what to amend", "Give --name, --kind, --limit and so on.")
        after = instruments.amend_instrument(writer, tool, facts)
        return _worked_out_anew(writer, [after])


def remove_check(archive: Archive, check: str) -> PutRight:
    """Take the check of this id away, and work out anew all sizes that its instrument took."""
    with archive.look() as look:
        found = checks.check_named(look, check)
        tool = next(i for i in instruments.all_instruments(look) if i.key == found.instrument_key)
    said = f"Took away the check of the {tool.name}: it read {found.reading_as_written} of {found.reference_as_written}"
    with archive.change(said) as writer:
        checks.remove_check(writer, found)
        return _worked_out_anew(writer, [tool])


def set_usual_limit(
    archive: Archive, kind: str, *, limit: str, why: str, resolution: str | None = None
) -> tuple[InstrumentKind, PutRight]:
    """Note what is usual for a kind of instrument (of a drawing: on the paper), in place of what is carried.

    All sizes taken with instruments of the kind that have no limit of their own are worked out anew.
    """
    known = _kind(kind)
    if not why.strip():
        raise NotAccepted(
            "It was not said where this limit comes from", "Say it with --why, as 'its data sheet'."
        )
    read = step_and_limit(resolution, limit)
    constant, per_mm = read["limit_constant_mm"], read["limit_per_mm"]
    if constant is None or per_mm is None:
        raise NotAccepted("A limit of nothing cannot be", "Write it like '0.3 mm + 0.2 mm/m'.")
    usual = UsualLimit(
        known.id, limit, constant, per_mm, read["resolution_mm"] or known.resolution_mm, why.strip()
    )
    with archive.change(f"Noted what is usual for a {known.id}: {limit}") as writer:
        instruments.keep_usual_limit(writer, usual)
        return Tools(writer).usual(known), _of_kind_anew(writer, known)


def forget_usual_limit(archive: Archive, kind: str) -> tuple[InstrumentKind, PutRight]:
    """Let what Rivetbook begins with stand for a kind of instrument again."""
    known = _kind(kind)
    with archive.change(f"Let what Rivetbook knows of a {known.id} stand again") as writer:
        if not instruments.forget_usual_limit(writer, known.id):
            raise NotAccepted(
                f"Nothing of your own was noted for a {known.id}", "It has what Rivetbook begins with."
            )
        return known, _of_kind_anew(writer, known)


def _kind(asked: str) -> InstrumentKind:
    found = kind_called(asked)
    if found is None:
        raise RecordNotFound("kind of instrument", asked, near_names(asked, words_for_kinds()))
    return found


def _of_kind_anew(writer: Writer, kind: InstrumentKind) -> PutRight:
    every = instruments.all_instruments(writer)
    return _worked_out_anew(
        writer, [i for i in every if i.limit_constant_mm is None and kind_called(i.kind) == kind]
    )


def _worked_out_anew(writer: Writer, tools: Iterable[Instrument]) -> PutRight:
    tools = tuple(tools)
    taken = {d.key: d for tool in tools for d in sizes.dimensions_taken_with(writer, tool)}
    recompute(writer, taken.values())
    return PutRight(tools, tuple(taken.values()))
