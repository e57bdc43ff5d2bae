"""Builds and their packs on the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from archive import wording
from archive.cli import show
from archive.records.things import Build, as_json

if TYPE_CHECKING:
    from archive.packs.writing import PackReport


def build_json(build: Build) -> dict[str, Any]:
    """A build for a JSON document; the ratio as a number and as the exact fraction."""
    return as_json(
        build,
        ratio=float(build.ratio),
        ratio_exact=str(build.ratio),
        subjects=[s.name for s in build.subjects],
    )


def build_line(build: Build) -> str:
    """A build in one line."""
    of = wording.listed([s.name for s in build.subjects])
    parts = [
        f"{build.name}: {of} at {build.scale_as_written}",
        build.process or "",
        f"to {_tolerance(build)}" if build.tolerance_mm else "",
    ]
    return ", ".join(part for part in parts if part)


def _tolerance(build: Build) -> str:
    """As it was written, with mm where it was written without a unit."""
    written = build.tolerance_as_written or ""
    return f"{written} mm" if written[-1:].isdigit() else written


def build_sheet(build: Build) -> None:
    """A build in full."""
    show.facts(
        [
            ("Build", f"{build.name}  ({build.id})"),
            ("Of", ", ".join(s.name for s in build.subjects)),
            ("Scale", build.scale_as_written),
            ("Made in", build.process),
            ("To", _tolerance(build)),
            ("Notes", build.notes),
        ]
    )
    click.echo(f'Next: rivetbook pack "{build.name}" --to FOLDER')


def build_table(builds: Sequence[Build]) -> None:
    """All builds."""
    show.table(
        ("Build", "Of", "Scale", "Made in", "To"),
        [
            (
                b.name,
                ", ".join(s.name for s in b.subjects),
                b.scale_as_written,
                b.process or "",
                _tolerance(b),
            )
            for b in builds
        ],
        nothing="There are no builds yet. Add one with: rivetbook build add NAME --scale 1:43.5 --subject SUBJECT",
    )


def pack_json(report: PackReport) -> dict[str, Any]:
    """What a pack holds, for a JSON document."""
    return as_json(report, folder=str(report.folder))


def pack_report(report: PackReport) -> None:
    """What a pack holds."""
    click.echo(
        f"Wrote the pack to '{report.folder}': {wording.counted(report.pages, 'page', 'pages')} to print, "
        f"{wording.counted(report.sizes, 'size', 'sizes')}, {wording.counted(report.photos, 'photo', 'photos')}."
    )
    if report.photos_not_chosen:
        click.echo(
            f"{wording.counted(report.photos_not_chosen, 'more photo shows', 'more photos show')} it; the best of each view are in."
        )
    for left in report.left_out:
        click.echo(f"Left out: {left.file}: {left.reason}")
