"""Sizes: written down, put right, shown."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from archive.cli import show_sizes
from archive.cli.door import (
    DONE_WITH_DOUBTS,
    BookGroup,
    json_option,
    pass_archive,
    pass_archive_to_look,
    show_json,
)
from archive.records.archive import Archive


@click.group(cls=BookGroup)
def size() -> None:
    """Sizes of subjects: write down what was read, put it right, see what it rests on."""


@size.command("add")
@click.argument("subject")
@click.argument("label", required=False)
@click.argument("as_written", metavar="[SIZE]", required=False)
@click.option("--with", "instrument", metavar="INSTRUMENT", help="What took the reading.")
@click.option("--photo", help="The photo that shows the reading being taken.")
@click.option("--visit", help="The visit it was taken on.")
@click.option("--on", metavar="DAY", help="The day it was taken: 2023-06-17.")
@click.option(
    "--span", help="How it was taken: over (outside to outside), between (inside to inside), centres."
)
@click.option(
    "--state", help="The condition of the thing that it is a size of, where it was altered: 'as built'."
)
@click.option("--guess", metavar="WHY", help="What it rests on, where it is a guess.")
@click.option("--published", metavar="SOURCE", help="Where it is published: a book, a drawing, a list.")
@click.option(
    "--from-sister", metavar="SUBJECT", help="The other example of the type that it was taken from."
)
@click.option("--differs", metavar="SIZE", help="How far that other example may differ, either way.")
@click.option("--count", is_flag=True, help="It is a number of things.")
@click.option("--angle", is_flag=True, help="It is an angle.")
@click.option("--slope", is_flag=True, help="It is a slope: 1 in 8.")
@click.option("--note", help="A remark to keep with the reading.")
@click.option(
    "--lines", "file", metavar="FILE", help="Many sizes: a file of lines (- reads what is typed in)."
)
@click.option("--keep-good", is_flag=True, help="With --lines: keep the good lines even if others are not.")
@json_option
@pass_archive
@click.pass_context
def add_size(
    ctx: click.Context,
    archive: Archive,
    /,
    subject: str,
    label: str | None,
    as_written: str | None,
    file: str | None,
    keep_good: bool,
    guess: str | None,
    published: str | None,
    from_sister: str | None,
    differs: str | None,
    count: bool,
    angle: bool,
    slope: bool,
    as_json_: bool,
    **how: str | None,
) -> None:
    """Write down one reading of LABEL on SUBJECT, as you would note it: 1ft 3in, 2.74 m, 381, 12, 42°, 1 in 8.

    Or many at once with --lines: a line each, 'post height = 9ft 0in', 'door width /between = 2ft 6in'. On a
    line of their own 'with: long tape', 'photo:', 'visit:', 'on:', 'state:' and 'grade:' hold until they are
    said anew; after '# ' anything goes. Nothing is kept unless all lines are good.

    \b
    Examples:
        rivetbook size add "Wharf crane" "crank throw" "1ft 3in" --with "long tape"
        rivetbook size add "Wharf crane" --lines crane.txt
    """
    how |= _known_how(guess, published, from_sister, differs)
    how["quantity"] = _quantity(count=count, angle=angle, slope=slope)
    if file is not None:
        if label is not None:
            raise click.UsageError("LABEL and SIZE do not go with --lines: the file holds them.")
        _add_lines(ctx, archive, subject, file, how, keep_good=keep_good, as_json_=as_json_)
    elif keep_good:
        raise click.UsageError("--keep-good goes with --lines.")
    elif label is None or as_written is None:
        raise click.UsageError("Missing LABEL and SIZE (or --lines FILE).")
    else:
        _add_one(archive, subject, label, as_written, how, as_json_=as_json_)


def _known_how(
    guess: str | None, published: str | None, from_sister: str | None, differs: str | None
) -> dict[str, str | None]:
    ways = {"guessed": guess, "published": published, "from a sister": from_sister}
    given = {grade: rests_on for grade, rests_on in ways.items() if rests_on is not None}
    if len(given) > 1:
        raise click.UsageError("Only one of --guess, --published and --from-sister can be.")
    grade, rests_on = next(iter(given.items()), (None, None))
    return {"grade": grade, "rests_on": rests_on, "sister_tolerance": differs}


def _quantity(**said: bool) -> str | None:
    meant = [name for name, is_so in said.items() if is_so]
    if len(meant) > 1:
        raise click.UsageError("Only one of --count, --angle and --slope can be.")
    return meant[0] if meant else None


def _add_one(
    archive: Archive, subject: str, label: str, as_written: str, how: dict[str, str | None], *, as_json_: bool
) -> None:
    from archive.dimensions.readings import record_reading

    recorded = record_reading(archive, subject, label, as_written, **how)
    if as_json_:
        show_json(show_sizes.recorded_json(recorded))
        return
    show_sizes.recorded(recorded)


def _add_lines(
    ctx: click.Context,
    archive: Archive,
    subject: str,
    file: str,
    how: dict[str, str | None],
    *,
    keep_good: bool,
    as_json_: bool,
) -> None:
    from archive.dimensions import lines

    if file == "-":
        name = "what was typed in"
        text = lines.decode_lines(sys.stdin.buffer.read(lines.MOST_BYTES + 1), name)
    else:
        name = f"'{file}'"
        text = lines.read_lines_file(Path(file).expanduser())
    done = lines.record_lines(archive, subject, text, name=name, keep_good=keep_good, **how)
    if as_json_:
        show_json(show_sizes.lines_json(done))
    else:
        show_sizes.lines_recorded(done)
    if done.faults:
        ctx.exit(DONE_WITH_DOUBTS)


@size.command("template")
@click.argument("subject")
@pass_archive_to_look
def size_template(archive: Archive, subject: str) -> None:
    """Print a file of lines for SUBJECT with the sizes of its kind, ready to fill in and give to 'size add'.

    \b
    Example:
        rivetbook size template "Wharf crane" > crane.txt
    """
    from archive.dimensions.lines import template

    click.echo(template(archive, subject), nl=False)


@size.command("amend")
@click.argument("subject")
@click.argument("label")
@click.argument("as_written", metavar="SIZE")
@click.option("--reading", help="Which reading, by its id or as it was written, where there are several.")
@click.option("--why", help="What was wrong with the old one.")
@json_option
@pass_archive
def amend_size(
    archive: Archive,
    subject: str,
    label: str,
    as_written: str,
    reading: str | None,
    why: str | None,
    as_json_: bool,
) -> None:
    """Correct a reading of LABEL on SUBJECT: SIZE takes its place, the old one is kept as it was written.

    \b
    Example:
        rivetbook size amend "Wharf crane" "crank throw" "1ft 3in" --why "read the wrong end"
    """
    from archive.dimensions.putting_right import amend_size as correct

    recorded = correct(archive, subject, label, as_written, reading=reading, why=why)
    if as_json_:
        show_json(show_sizes.recorded_json(recorded))
        return
    show_sizes.recorded(recorded)
    click.echo("The old reading is kept as it was written, and counts no longer.")


@size.command("set-aside")
@click.argument("reading")
@click.option("--why", required=True, help="Why it should not count.")
@pass_archive
def set_aside(archive: Archive, reading: str, why: str) -> None:
    """Let READING (its id, see 'size show') count no longer; it is kept as it was written.

    \b
    Example:
        rivetbook size set-aside r4k7m2p9q3x --why "the tape was hooked on the weld"
    """
    from archive.dimensions.putting_right import set_reading_aside

    click.echo(set_reading_aside(archive, reading, why))


@size.command("move")
@click.argument("subject")
@click.argument("label")
@click.option("--to-subject", metavar="SUBJECT", help="The subject that it is a size of.")
@click.option("--to-label", metavar="LABEL", help="What it should be called.")
@pass_archive
def move_size(
    archive: Archive, subject: str, label: str, to_subject: str | None, to_label: str | None
) -> None:
    """Put the size LABEL of SUBJECT, with all its readings, under another subject or another label.

    \b
    Example:
        rivetbook size move "Wharf crane" "door height" --to-subject "Weighbridge hut"
    """
    from archive.dimensions.putting_right import move_size as move

    click.echo(move(archive, subject, label, to_subject=to_subject, to_label=to_label))


@click.command()
@click.argument("subject")
@click.option("--at", "scale", metavar="SCALE", help="Show them at this scale too: 1:43.5, 7mm/ft, N (GB).")
@json_option
@pass_archive_to_look
def sizes(archive: Archive, subject: str, scale: str | None, as_json_: bool) -> None:
    """Show the sizes of SUBJECT: as written, in mm, in feet and inches, with their doubt, and on the model.

    \b
    Example:
        rivetbook sizes "Weighbridge hut" --at 1:43.5
    """
    from archive.dimensions.overview import estimate_json, sizes_of
    from archive.scales import parse_scale

    known = sizes_of(archive, subject, scale=parse_scale(scale) if scale else None)
    if as_json_:
        show_json(
            {
                "subject": known.subject.name,
                "scale": scale,
                "ratio": float(known.scale.ratio) if known.scale else None,
                "sizes": [estimate_json(line) for line in known.lines],
            }
        )
        return
    show_sizes.size_table(known)
