"""Photos on the terminal and as JSON: brought in, listed, one in full, linked to what they show."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from archive import wording
from archive.cli import show, show_visits
from archive.records.linking import Linked
from archive.records.names import name_key
from archive.records.photo_facts import facts_of
from archive.records.things import Photo, Region, Sighting, as_json

if TYPE_CHECKING:
    from archive.ingest.report import ImportReport, KeptBeside
    from archive.ingest.sources import LeftOut
    from archive.records.finding.cards import PhotoCard
    from archive.records.look_alikes import Group


def photo_json(photo: Photo) -> dict[str, Any]:
    """A photo for a JSON document."""
    document = as_json(photo)
    originals = document.pop("originals")
    picture = photo.picture
    return {
        "id": document.pop("id"),
        "file": document.pop("file"),
        "sha256": picture.sha256,
        "bytes": picture.bytes,
        "files": [{"role": o.role, "path": o.stored_path, "name_as_found": o.name_as_found, "sha256": o.sha256, "bytes": o.bytes} for o in originals],
        **document,
        "sightings": [
            {"subject": s.subject_name, "view": s.view, "mirrored": s.mirrored, "region": region_json(s.region)}
            for s in photo.sightings
        ],
    }  # fmt: skip


def region_json(region: Region | None) -> dict[str, int] | None:
    """A region of a photo for a JSON document."""
    return as_json(region) if region else None


def photo_sheet(photo: Photo, marks: Sequence[str]) -> None:
    """What is known of a photo."""
    facts = [
        ("Photo", f"{photo.file}  ({photo.id})"),
        ("Visit", photo.visit),
        *facts_of(photo),
        *(("Shows", _seen_on_it(s)) for s in photo.sightings),
        ("Marks", ", ".join(marks)),
    ]
    show.facts(facts)
    for warning in photo.warnings:
        click.echo(warning.message)
    if not photo.sightings:
        click.echo(f'It shows no subject yet. Say so with: rivetbook link "{photo.file}" --to SUBJECT')


def _shows(photo: Photo) -> str:
    return "; ".join(_seen_on_it(s) for s in photo.sightings)


def _seen_on_it(s: Sighting) -> str:
    """'Wharf crane (front, mirrored, at 1200,300 to 1600,800 px)'."""
    mirrored, where = "mirrored" if s.mirrored else None, f"at {s.region}" if s.region else None
    return s.subject_name + wording.in_brackets(s.view, mirrored, where)


def photo_table(photos: Sequence[Photo], *, visit: str = "NAME") -> None:
    """Photos in order of time; where there are none, how some come into the visit."""
    show.table(
        ("Photo", "Taken", "Visit", "Shows", "Caption"),
        [(p.file, show.moment(p.taken), p.visit, _shows(p), p.caption or "") for p in photos],
        nothing=f"No photos here yet. Bring some in with: rivetbook import FOLDER --visit {visit}",
    )


def look_alikes(groups: Sequence[Group]) -> None:
    """Photos that look alike, group by group."""
    if not groups:
        click.echo("No two of these photos look alike.")
    for number, group in enumerate(groups):
        if number:
            click.echo()
        burst = f"{len(group.photos)} photos taken one after the other:"
        click.echo(burst if group.sort == "burst" else f"The same picture {len(group.photos)} times:")
        rows = [
            (p.file, show.moment(p.taken), f"{p.width} × {p.height}", p.visit, _shows(p))
            for p in group.photos
        ]
        show.table(("Photo", "Taken", "Pixels", "Visit", "Shows"), rows, nothing="")


def card_table(cards: Sequence[PhotoCard]) -> None:
    """Photos that show no subject yet, in the order in which they were found."""
    rows = [(card.file, show.moment(card.taken), card.visit, card.caption or "") for card in cards]
    show.table(("Photo", "Taken", "Visit", "Caption"), rows, nothing="")


def _why_left_out(left: LeftOut) -> str:
    if left.act is None:
        return left.reason
    return (
        f"{left.reason}; 'rivetbook undo {left.act.number}' brings it back with all that was written about it, "
        "and --taken-out-too imports it as a new photo"
    )


def import_json(report: ImportReport) -> dict[str, Any]:
    """An import's report for a JSON document."""
    return {
        "visit": report.visit.name if report.visit else None,
        "imported": report.imported,
        "already_held": [{"file": h.file, "held_as": h.stored_path} for h in report.already_held],
        "kept_beside": [{"file": k.file, "role": k.role, "photo": k.photo} for k in report.kept_beside],
        "placed_by_track": report.placed_by_track,
        "left_out": [{"file": o.file, "reason": _why_left_out(o)} for o in report.left_out],
        "warnings": [{"file": w.file, "code": w.code, "message": w.message} for w in report.warnings],
        "hints": [{"file": h.file, "code": h.code, "message": h.message} for h in report.hints],
        "seconds": round(report.seconds, 3),
    }


_OTHER_NAMES_TOLD = 5


def _last(path: str) -> str:
    return path.replace("\\", "/").rpartition("/")[2]


def import_report(report: ImportReport) -> None:
    """What an import did, in sentences."""
    if report.visit is not None and report.visit_was_made:
        click.echo(
            f"Made the visit {show_visits.visit_line(report.visit)}: its days are the photos', its zone is this machine's."
        )
    into = f" into the visit {report.visit.name}" if report.visit and report.imported else ""
    click.echo(f"Imported {wording.counted(len(report.imported), 'photo', 'photos')}{into}.")
    with_photos = [kept for kept in report.kept_beside if kept.photo is not None]
    if with_photos:
        click.echo(f"{_beside(with_photos)} kept as part of the photos that they came with.")
    if loose := [kept for kept in report.kept_beside if kept.photo is None]:
        click.echo(f"{_beside(loose)} kept beside the visit's photos.")
    if report.placed_by_track:
        given = wording.counted(
            report.placed_by_track, "photo was given its place", "photos were given their places"
        )
        click.echo(f"{given} by the GPS track.")
    if report.already_held:
        click.echo(
            f"{wording.counted(len(report.already_held), 'file was', 'files were')} in the archive already and "
            f"{'was' if len(report.already_held) == 1 else 'were'} not copied again."
        )
    otherwise = [h for h in report.already_held if name_key(_last(h.file)) != name_key(_last(h.stored_path))]
    for held in otherwise[:_OTHER_NAMES_TOLD]:
        click.echo(f"  {_last(held.file)} is held as '{held.stored_path}'.")
    if report.left_out:
        click.echo(f"{wording.counted(len(report.left_out), 'file was', 'files were')} left out:")
        for left in report.left_out:
            click.echo(f"  {left.file}: {_why_left_out(left)}")
    if report.warnings:
        click.echo("Please look at:")
        for warning in report.warnings:
            click.echo(f"  {warning.file}: {warning.message}")
    if report.hints:
        click.echo("Worth knowing:")
        for hint in report.few_hints:
            click.echo(f"  {hint.file}: {hint.message}")


def _beside(kept: Sequence[KeptBeside]) -> str:
    """'2 raw files and 1 sidecar were'."""
    counts = [
        wording.counted(number, *words)
        for role, words in show_visits.FILE_ROLES.items()
        if (number := sum(each.role == role for each in kept))
    ]
    listed = wording.listed(counts)
    return f"{listed} {'was' if len(kept) == 1 else 'were'}"


def linked(done: Linked) -> None:
    """What linking did."""
    names = wording.listed([s.name for s in done.subjects])
    if done.photos:
        click.echo(
            f"{wording.counted(len(done.photos), 'photo now shows', 'photos now show')} {names}{done.how}."
        )
    if done.unchanged:
        alone = "" if done.photos else f" {names}{done.how}"
        already = wording.counted(len(done.unchanged), "photo", "photos")
        click.echo(f"{already} {'did so' if done.photos else 'showed'}{alone} already.")
    for warning in done.warnings:
        click.echo(warning)
