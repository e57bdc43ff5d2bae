"""The visit that an import is for: the one that is named, or one made from the photos' days."""

from __future__ import annotations

from collections.abc import Iterable

from archive.errors import NotAccepted, RecordNotFound
from archive.ingest.survey import FileSeen, Surveyed
from archive.records import originals, visits
from archive.records.archive import Archive
from archive.records.entering import this_machines_zone
from archive.records.names import has_id_form
from archive.records.things import Visit


def days_of(given: Iterable[Surveyed | FileSeen]) -> tuple[str, str] | None:
    """Return the first and the last day of the photos that say theirs."""
    days = sorted(
        each.metadata.taken[:10] for each in given if isinstance(each, Surveyed) and each.metadata.taken
    )
    return (days[0], days[-1]) if days else None


def visit_for(archive: Archive, asked: str | None, days: tuple[str, str] | None) -> tuple[Visit, bool]:
    """Find the visit, or make it; returns whether it was made. A visit that has no days yet is given the photos'."""
    name = asked if asked is not None else _name_after(days)
    with archive.look() as look:
        held = visits.find_visit(look, name)
    if held is not None:
        if held.first_day is None and days is not None:
            with archive.change(f"Gave the visit {held.name} the days of its photos") as writer:
                held = visits.give_days(writer, held, *days)
        return held, False
    if has_id_form(name):
        raise RecordNotFound("visit", name)  # who writes an id means a visit that is there
    with archive.change(f"Added the visit {name} for an import") as writer:
        first_day, last_day = days or (None, None)
        zone = this_machines_zone()
        made = visits.add_visit(writer, name, zone=zone, first_day=first_day, last_day=last_day)
        # Now, so that no visit stays without a folder where none can be made.
        originals.visit_folder(archive, made)
    return made, True


def _name_after(days: tuple[str, str] | None) -> str:
    if days is None:
        raise NotAccepted(
            "These files do not say when they were taken", "Name their visit with --visit NAME."
        )
    first_day, last_day = days
    return f"Visit of {first_day}" if first_day == last_day else f"Visit of {first_day} to {last_day}"
