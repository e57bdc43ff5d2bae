"""Visits on the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from archive.cli import show
from archive.records.clocks import Clock
from archive.records.things import Visit, VisitFile

FILE_ROLES = {
    "raw": ("raw file", "raw files"),
    "film": ("film", "films"),
    "sound": ("voice note", "voice notes"),
    "track": ("GPS track", "GPS tracks"),
    "sidecar": ("sidecar", "sidecars"),
    "edit": ("note of an edit", "notes of edits"),
}


def visit_line(visit: Visit) -> str:
    """A visit in one line."""
    parts = [visit.name, visit.place or "", _days(visit), f"zone {visit.zone}"]
    return ", ".join(part for part in parts if part)


def visit_sheet(visit: Visit) -> None:
    """A visit in full."""
    show.facts(
        [
            ("Visit", f"{visit.name}  ({visit.id})"),
            ("Place", visit.place),
            ("Days", _days(visit)),
            ("Zone", visit.zone),
            ("People", visit.people),
            ("Access", visit.access_notes),
            ("Folder", f"visits/{visit.folder}"),
            ("Photos", str(visit.photos)),
        ]
    )


def visit_file_line(file: VisitFile) -> str:
    """A film, voice note or GPS track of a visit in one line."""
    size = f"{file.bytes / 1e6:,.1f} MB" if file.bytes >= 100_000 else f"{file.bytes / 1e3:,.0f} kB"
    return f"{file.file} ({FILE_ROLES[file.role][0]}, {size})"


def clock_line(clock: Clock) -> str:
    """What is said of a camera's clock, in a line."""
    from archive.records.setting_clocks import told_clock

    which = (
        ""
        if clock.first_read is None
        else f" from {show.moment(clock.first_read)} to {show.moment(clock.last_read)}"
    )
    return f"The clock of {clock.camera or 'photos that name no camera'}{which}: {told_clock(clock.ahead_s)}."


def visit_table(visits: Sequence[Visit]) -> None:
    """All visits."""
    show.table(
        ("Visit", "Place", "Days", "Zone", "Photos"),
        [(v.name, v.place or "", _days(v), v.zone, str(v.photos)) for v in visits],
        nothing="There are no visits yet. Import photos, or add one with: rivetbook visit add NAME",
    )


def _days(visit: Visit) -> str:
    if visit.first_day is None:
        return ""
    if visit.last_day in (None, visit.first_day):
        return visit.first_day
    return f"{visit.first_day} to {visit.last_day}"
