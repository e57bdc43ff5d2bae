"""How things look on the terminal. Sizes are rounded and phrased by `wording`; this lays them out."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from shutil import get_terminal_size
from typing import TYPE_CHECKING, Any

import click

from archive import wording
from archive.records.clocks import Clock
from archive.records.things import (
    Build,
    Dimension,
    Instrument,
    Photo,
    Subject,
    Visit,
    VisitFile,
    as_json,
)

if TYPE_CHECKING:
    from rich.console import Console

    from archive.dimensions.checking import CheckNoted, InstrumentSheet
    from archive.dimensions.instruments import InstrumentLine
    from archive.dimensions.lines import LinesRecorded
    from archive.dimensions.overview import SizeLine, SubjectSizes
    from archive.dimensions.readings import Recorded
    from archive.metrology.instrument_kinds import InstrumentKind
    from archive.packs.writing import PackReport
    from archive.records.fixity import Finding, Verified
    from archive.records.repairing import Repaired

FILE_ROLES = {
    "raw": ("raw file", "raw files"),
    "film": ("film", "films"),
    "sound": ("voice note", "voice notes"),
    "track": ("GPS track", "GPS tracks"),
    "sidecar": ("sidecar", "sidecars"),
    "edit": ("note of an edit", "notes of edits"),
}
# Signs that are common here; for others rich is asked, which takes time to load.
_ONE_COLUMN_EACH = re.compile("[ -\u02ff⅛⅜⅝⅞]*")
_WIDE = 160  # where nobody watches, no line is broken for a screen's sake


def _console() -> Console:
    from rich.console import Console

    width = None if sys.stdout.isatty() else _WIDE
    return Console(file=sys.stdout, width=width, highlight=False, markup=False, emoji=False)


def table(headings: Sequence[str], rows: Sequence[Sequence[str]], *, nothing: str) -> None:
    """Print rows under headings, or the sentence `nothing`."""
    if not rows:
        click.echo(nothing)
        return
    # A column that is empty in every row says nothing.
    used = [n for n in range(len(headings)) if any(row[n] for row in rows)]
    if _printed_where_all_fits([[row[n] for n in used] for row in (headings, *rows)]):
        return
    from rich import box
    from rich.table import Table

    grid = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False)
    for n in used:
        grid.add_column(headings[n], overflow="fold")
    for row in rows:
        grid.add_row(*(row[n] for n in used))
    _console().print(grid)


def _printed_where_all_fits(rows: Sequence[Sequence[str]]) -> bool:
    """Print a table as rich would, in a hundredth of the time, where no cell has to be folded; tells whether it did."""
    if not all(cell.isprintable() for row in rows for cell in row):
        return False
    taken = [[_columns_taken(cell) for cell in row] for row in rows]
    widths = [max(column) for column in zip(*taken, strict=True)]
    wide = sum(widths) + 3 * (len(widths) - 1)
    if wide > (get_terminal_size().columns if sys.stdout.isatty() else _WIDE):
        return False
    lines = [
        "   ".join(
            cell + " " * (width - used) for cell, width, used in zip(row, widths, lengths, strict=True)
        )
        for row, lengths in zip(rows, taken, strict=True)
    ]
    click.echo(f"{click.style(lines[0].rstrip(), bold=True)}\n{'─' * wide}")
    click.echo("\n".join(line.rstrip() for line in lines[1:]))
    return True


def _columns_taken(cell: str) -> int:
    if _ONE_COLUMN_EACH.fullmatch(cell):
        return len(cell)
    from rich.cells import cell_len

    return cell_len(cell)


@contextmanager
def progress() -> Iterator[Callable[[str, int, int], None]]:
    """Show how far long work is, on a terminal; nothing elsewhere."""
    if not sys.stderr.isatty():
        yield lambda _stage, _done, _total: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        tasks: dict[str, Any] = {}

        def tell(stage: str, done: int, total: int) -> None:
            if stage not in tasks:
                tasks[stage] = bar.add_task(stage, total=total)
            bar.update(tasks[stage], completed=done, total=total)

        yield tell


def _days(visit: Visit) -> str:
    if visit.first_day is None:
        return ""
    if visit.last_day in (None, visit.first_day):
        return visit.first_day
    return f"{visit.first_day} to {visit.last_day}"


def counted(number: int, one: str, many: str) -> str:
    """'1 photo', '3 photos'."""
    return f"1 {one}" if number == 1 else f"{number} {many}"


def visit_line(visit: Visit) -> str:
    """A visit in one line."""
    parts = [visit.name, visit.place or "", _days(visit), f"zone {visit.zone}"]
    return ", ".join(part for part in parts if part)


def visit_lines(visit: Visit) -> list[str]:
    """A visit in full."""
    facts = [
        ("Visit", f"{visit.name}  ({visit.id})"),
        ("Place", visit.place),
        ("Days", _days(visit)),
        ("Zone", visit.zone),
        ("People", visit.people),
        ("Access", visit.access_notes),
        ("Folder", f"visits/{visit.folder}"),
        ("Photos", str(visit.photos)),
    ]
    return [f"{name:<8}{value}" for name, value in facts if value]


def visit_file_line(file: VisitFile) -> str:
    """A film, voice note or GPS track of a visit in one line."""
    size = f"{file.bytes / 1e6:,.1f} MB" if file.bytes >= 100_000 else f"{file.bytes / 1e3:,.0f} kB"
    return f"{file.file} ({FILE_ROLES[file.role][0]}, {size})"


def clock_line(clock: Clock) -> str:
    """What is said of a camera's clock, in a line."""
    from archive.records.setting_clocks import told_clock

    which = (
        "" if clock.first_read is None else f" from {moment(clock.first_read)} to {moment(clock.last_read)}"
    )
    return f"The clock of {clock.camera or 'photos that name no camera'}{which}: {told_clock(clock.ahead_s)}."


def visit_table(visits: Sequence[Visit]) -> None:
    """All visits."""
    table(
        ("Visit", "Place", "Days", "Zone", "Photos"),
        [(v.name, v.place or "", _days(v), v.zone, str(v.photos)) for v in visits],
        nothing="There are no visits yet. Import photos, or add one with: rivetbook visit add NAME",
    )


def moment(taken: str | None) -> str:
    """When a photo was taken, for people."""
    return taken[:16].replace("T", " ") if taken else "unknown"


def subject_line(subject: Subject) -> str:
    """A subject in one line."""
    kind = f", a kind of {subject.kind.replace('-', ' ')}" if subject.kind else ""
    return f"{subject.name}{kind}"


def subject_sheet(subject: Subject, photos: Sequence[Photo]) -> None:
    """What is known of a subject, and the photos that show it."""
    facts = [
        ("Subject", f"{subject.name}  ({subject.id})"),
        ("Also", ", ".join(subject.also)),
        ("Kind", subject.kind),
        ("Part of", subject.part_of),
        ("Place", subject.place),
        ("Maker", subject.maker),
        ("Numbers", subject.numbers),
        ("Era", subject.era),
        ("Notes", subject.notes),
    ]
    for name, value in facts:
        if value:
            click.echo(f"{name:<9}{value}")
    click.echo()
    seen = {p.id: next((s for s in p.sightings if s.subject_id == subject.id), None) for p in photos}
    rows = []
    for photo in photos:
        sighting = seen[photo.id]
        view = (sighting.view or "") if sighting else ""
        rows.append((photo.file, view, moment(photo.taken), photo.visit, photo.caption or ""))
    table(
        ("Photo", "View", "Taken", "Visit", "Caption"),
        rows,
        nothing=f'No photo shows it yet. Link some with: rivetbook link PHOTO... --to "{subject.name}" --view front',
    )
    click.echo()


def subject_table(subjects: Sequence[Subject]) -> None:
    """All subjects."""
    table(
        ("Subject", "Kind", "Place", "Part of", "Also"),
        [(s.name, s.kind or "", s.place or "", s.part_of or "", ", ".join(s.also)) for s in subjects],
        nothing="There are no subjects yet. Add one with: rivetbook subject add NAME --kind KIND",
    )


def _step(instrument: Instrument) -> str:
    return f"{instrument.resolution_mm:g} mm" if instrument.resolution_mm else ""


def instrument_line(instrument: Instrument, *, checked: bool = False) -> str:
    """An instrument in one line."""
    parts = [
        instrument.name,
        instrument.kind or "",
        f"reads to {_step(instrument)}" if instrument.resolution_mm else "",
        f"within {instrument.limit_as_written}" if instrument.limit_as_written else "",
        f"drawn at {instrument.drawn_at}" if instrument.drawn_at else "",
        "steady" if instrument.steady else "changing",
        "checked" if checked else "unchecked",
    ]
    return ", ".join(part for part in parts if part)


def instrument_table(lines: Sequence[InstrumentLine]) -> None:
    """All instruments."""
    table(
        ("Instrument", "Kind", "Reads to", "Within", "Its error is", "Checks"),
        [
            (
                line.instrument.name,
                line.instrument.kind or "",
                _step(line.instrument),
                _limit(line),
                "steady" if line.instrument.steady else "changing",
                str(line.checks or "none"),
            )
            for line in lines
        ],
        nothing="There are no instruments yet. Add one with: rivetbook instrument add NAME --kind tape",
    )


def _limit(line: InstrumentLine) -> str:
    if line.instrument.limit_as_written or line.usual is None:
        return line.instrument.limit_as_written or ""
    return f"{usual_limit(line.usual)}, as usual"


def usual_limit(kind: InstrumentKind) -> str:
    """How far off instruments of a kind may be until they are checked: '1 mm + 0.6 mm/m'."""
    constant = kind.constant_mm or kind.constant_on_paper_mm
    parts = [f"{constant:g} mm{' on the paper' if kind.constant_on_paper_mm else ''}"] if constant else []
    parts += [f"{kind.per_m_mm:g} mm/m"] if kind.per_m_mm else []
    return " + ".join(parts) or "0 mm"


def worked_out_anew(sizes: Sequence[Dimension]) -> None:
    """How many sizes followed a change."""
    if sizes:
        click.echo(
            f"{counted(len(sizes), 'size that it took was', 'sizes that it took were')} worked out anew."
        )


def instrument_json(sheet: InstrumentSheet) -> dict[str, Any]:
    """What is known of an instrument, for a JSON document; lengths in mm, unrounded."""
    return {
        "instrument": as_json(sheet.instrument),
        "checks": [as_json(check) for check in sheet.checks],
        "verdict": [as_json(judged) for judged in sheet.verdict],
        "warnings": [as_json(warned) for warned in sheet.warnings],
    }


def instrument_sheet(sheet: InstrumentSheet) -> None:
    """An instrument with its checks and what they say of it."""
    click.echo(instrument_line(sheet.instrument, checked=bool(sheet.checks)))
    if sheet.checks:
        table(
            ("Known", "It read", "On", "Visit", "Check"),
            [
                (c.reference_as_written, c.reading_as_written, c.taken_on or "", c.visit or "", c.id)
                for c in sheet.checks
            ],
            nothing="",
        )
    for judged in sheet.verdict:
        click.echo(judged.sentence)
    if not sheet.verdict:
        click.echo(
            "It is unchecked and nobody said how far off it may be, so its readings count as right to their step."
        )
    if not sheet.checks:
        click.echo(
            f'Compare it with a length known better: rivetbook instrument check "{sheet.instrument.name}" '
            '--reference "2743mm ± 1mm" --reading LENGTH'
        )
    for warned in sheet.warnings:
        click.echo(warned.message)


def check_noted(noted: CheckNoted) -> None:
    """What a check did."""
    check, tool = noted.check, noted.sheet.instrument
    click.echo(
        f"Noted that the {tool.name} read {check.reading_as_written} of a length known to be {check.reference_as_written}."
    )
    for judged in noted.sheet.verdict:
        click.echo(judged.sentence)
    for warned in noted.sheet.warnings:
        click.echo(warned.message)
    worked_out_anew(noted.sizes)


def recorded(done: Recorded) -> None:
    """What was written down, echoed in both systems."""
    reading, estimate = done.reading, done.estimate
    known = wording.size(estimate.quantity, estimate.value, (estimate.low_95, estimate.high_95))
    other = wording.other_system(estimate.quantity, estimate.value, (estimate.low_95, estimate.high_95))
    shown = f"{known} ({other})" if other else known
    click.echo(f"Wrote down {_named(done.dimension)} of {done.dimension.subject}: '{reading.as_written}'.")
    count = "" if estimate.readings == 1 else f" from {estimate.readings} readings"
    click.echo(f"Best figure{count}: {shown}, {wording.grade(estimate.grade)}.")
    for warning in (*done.warnings, *estimate.warnings):
        click.echo(warning.message)


def recorded_json(done: Recorded) -> dict[str, Any]:
    """A reading that was written down, for a JSON document."""
    from archive.dimensions.overview import reading_json

    return {"reading": reading_json(done.reading), "warnings": [as_json(w) for w in done.warnings]}


def lines_recorded(done: LinesRecorded) -> None:
    """What a file of lines brought, echoed in both systems."""
    click.echo(f"Wrote down {counted(len(done.recorded), 'size', 'sizes')} of {done.subject.name}.")
    rows = []
    for each in done.recorded:
        best = each.estimate
        interval = (best.low_95, best.high_95)
        rows.append(
            (
                _named(each.dimension),
                each.reading.as_written,
                wording.size(best.quantity, best.value, interval),
                wording.other_system(best.quantity, best.value, interval),
                best.grade,
            )
        )
    table(("Size", "As written", "Best figure", "In feet", "Known how"), rows, nothing="")
    for each in done.recorded:
        for warning in each.warnings:
            click.echo(f"{_named(each.dimension)}: {warning.message}")
    disagreeing = {_named(r.dimension): r.estimate.warnings for r in done.recorded}
    for name, warnings in disagreeing.items():
        for warned in warnings:
            click.echo(f"{name}: {warned.message}")
    if done.left_empty:
        click.echo(f"{counted(done.left_empty, 'line', 'lines')} had no size and were passed over.")
    if done.faults:
        click.echo(f"{counted(len(done.faults), 'line was', 'lines were')} left out:")
        for fault in done.faults:
            click.echo(f"  {fault}")


def lines_json(done: LinesRecorded) -> dict[str, Any]:
    """What a file of lines brought, for a JSON document."""
    from archive.dimensions.overview import reading_json

    return {
        "subject": done.subject.name,
        "readings": [reading_json(each.reading) for each in done.recorded],
        "left_empty": done.left_empty,
        "left_out": list(done.faults),
        "warnings": [as_json(w) for each in done.recorded for w in each.warnings],
    }


def _named(dimension: Dimension) -> str:
    """A size by its label, with its span and state where they are not the usual."""
    marks = [dimension.span] if dimension.span != "plain" else []
    marks += [dimension.state] if dimension.state != "as found" else []
    return dimension.label + (f" ({', '.join(marks)})" if marks else "")


def _size_row(line: SizeLine) -> tuple[str, ...]:
    standing = [r for r in line.readings if not r.replaced and r.set_aside is None]
    written = "; ".join(r.as_written for r in standing if not (r.derived_by and r.photo))
    by = "; ".join(dict.fromkeys(r.instrument or r.rests_on or "" for r in standing)).strip("; ")
    estimate = line.estimate
    if estimate is None:
        return (_named(line.dimension), written, "no figure", "", "", "", by)
    interval = (estimate.low_95, estimate.high_95)
    model = ""
    if line.model_mm is not None and line.model_interval_95_mm is not None:
        model = wording.size("length", line.model_mm, line.model_interval_95_mm)
    return (
        _named(line.dimension),
        written,
        wording.size(estimate.quantity, estimate.value, interval),
        wording.other_system(estimate.quantity, estimate.value, interval),
        model,
        estimate.grade,
        by,
    )


def size_table(known: SubjectSizes) -> None:
    """A subject's sizes, real and on the model."""
    scale = known.scale
    model = f"On the model ({scale.as_written})" if scale else "On the model"
    table(
        ("Size", "As written", "Best figure", "In feet", model, "Known how", "With"),
        [_size_row(line) for line in known.lines],
        nothing=f'No sizes yet. Write one down with: rivetbook size add "{known.subject.name}" LABEL SIZE',
    )
    for line in known.lines:
        for warning in line.estimate.warnings if line.estimate else ():
            click.echo(f"{_named(line.dimension)}: {warning.message}")


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
    of = " and ".join(s.name for s in build.subjects)
    parts = [
        f"{build.name}: {of} at {build.scale_as_written}",
        build.process or "",
        f"to {build.tolerance_as_written}" if build.tolerance_as_written else "",
    ]
    return ", ".join(part for part in parts if part)


def build_sheet(build: Build) -> None:
    """A build in full."""
    facts = [
        ("Build", f"{build.name}  ({build.id})"),
        ("Of", ", ".join(s.name for s in build.subjects)),
        ("Scale", build.scale_as_written),
        ("Made in", build.process),
        ("To", build.tolerance_as_written),
        ("Notes", build.notes),
    ]
    for name, value in facts:
        if value:
            click.echo(f"{name:<9}{value}")
    click.echo(f'Next: rivetbook pack "{build.name}" --to FOLDER')


def build_table(builds: Sequence[Build]) -> None:
    """All builds."""
    table(
        ("Build", "Of", "Scale", "Made in", "To"),
        [
            (
                b.name,
                ", ".join(s.name for s in b.subjects),
                b.scale_as_written,
                b.process or "",
                b.tolerance_as_written or "",
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
        f"Wrote the pack to '{report.folder}': {counted(report.pages, 'page', 'pages')} to print, "
        f"{counted(report.sizes, 'size', 'sizes')}, {counted(report.photos, 'photo', 'photos')}."
    )
    if report.photos_not_chosen:
        click.echo(
            f"{counted(report.photos_not_chosen, 'more photo shows', 'more photos show')} it; the best of each view are in."
        )
    for left in report.left_out:
        click.echo(f"Left out: {left.file}: {left.reason}")


FAULTS = ("missing", "altered", "stray", "unlisted")
_FAULTS_SAID = {
    "missing": "Missing",
    "altered": "Altered",
    "stray": "Known to nobody",
    "unlisted": "Not rightly in the list of checksums beside it",
}


def finding_json(finding: Finding) -> dict[str, Any]:
    """What is wrong with a file, for a JSON document."""
    return {"path": finding.path, "message": finding.message, "remedy": finding.remedy}


def verified(found: Verified) -> None:
    """What a check of the originals found."""
    size = f"{found.bytes / 1e6:,.1f} MB" if found.bytes < 1e9 else f"{found.bytes / 1e9:,.1f} GB"
    click.echo(f"Read {counted(found.files, 'file', 'files')} ({size}).")
    if not found.findings:
        click.echo("Every original is what it was when it came.")
    _findings(found.findings)


def _findings(findings: Sequence[Finding]) -> None:
    for fault in FAULTS:
        these = [finding for finding in findings if finding.fault == fault]
        if these:
            click.echo(f"{_FAULTS_SAID[fault]}:")
        for finding in these:
            click.echo(f"  {finding.path}: {finding.message}. {finding.remedy}.")


def repaired(done: Repaired) -> None:
    """What a repair did."""
    click.echo(f"Put back {counted(len(done.put_back), 'original', 'originals')}.")
    for each in done.put_back:
        kept = f"; the altered one is '{each.kept_as}'" if each.kept_as else ""
        click.echo(f"  {each.path}, from '{each.taken_from}'{kept}")
    if done.lists_written:
        click.echo("Wrote the lists of checksums anew.")
    if done.still_wrong:
        click.echo("Still wrong:")
        _findings(done.still_wrong)
