"""Many sizes in one go: a file of lines such as 'door height = 6ft 2in', checked whole before any is kept.

    with: long tape
    on: 2023-06-17
    door height = 6ft 2in
    bay spacing /centres = 2.74 m     # a remark

`with`, `photo`, `visit`, `on`, `state` and `grade` on a line of their own hold until they are changed;
left empty, they hold no longer.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from operator import attrgetter
from pathlib import Path
from typing import Any

from archive.dimensions.observations import FROM_A_SISTER, GUESSED
from archive.dimensions.readings import (
    AS_FOUND,
    RESTS_ON,
    Checked,
    Checker,
    Entry,
    Recorded,
    parted_label,
    write_down,
)
from archive.errors import (
    FileNotThere,
    FolderForFile,
    LinesNotSaved,
    NotAccepted,
    RivetbookError,
    shown,
    what_is_wrong,
)
from archive.kinds import thesaurus
from archive.records import kinds, subjects
from archive.records.archive import Archive
from archive.records.names import near_names
from archive.records.things import Subject
from archive.wording import counted

_NOTHING_HOLDS = Entry("", "")
MOST_BYTES = 4_000_000
_MOST_TOLD = 40  # faults of a file, and lines with the same one
HOLDING = ("with", "photo", "visit", "on", "state", "grade")
# What holds and is looked up, as a field of `Entry`.
_LOOKED_UP = {"with": "instrument", "photo": "photo", "visit": "visit", "on": "on"}
_GRADES = {
    "measured": "measured",
    "published": "published",
    "guess": GUESSED,
    "guessed": GUESSED,
    "sister": FROM_A_SISTER,
    "from a sister": FROM_A_SISTER,
}
# The ways worth telling apart, by a label's last word; what is overall is taken over all.
_SPANS = {
    "width": ("over", "between"),
    "opening": ("over", "between"),
    "spacing": ("between", "centres"),
    "distance": ("between", "centres"),
}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of such a file; `number` counts from 1."""

    number: int
    text: str


@dataclass(frozen=True, slots=True)
class Fault:
    """A line that cannot be kept, and why, for a person."""

    line: Line
    why: str


@dataclass(frozen=True, slots=True)
class Parsed:
    """A file of lines, read but not checked against the archive."""

    entries: tuple[tuple[Line, Entry], ...]
    named: tuple[tuple[Line, str, str], ...]  # what is to be looked up: the field of `Entry`, and the name
    left_empty: int  # labels without a size
    faults: tuple[Fault, ...]
    unsure: Mapping[int, Line]  # by number: what stands under a word that should hold and could not be read


@dataclass(frozen=True, slots=True)
class LinesRecorded:
    """The sizes that were written down, and what is wrong with lines that were not (where the good were to be kept)."""

    subject: Subject
    recorded: tuple[Recorded, ...]
    left_empty: int
    left_out: int  # lines with a fault; those with the same one are told together
    faults: tuple[str, ...]


def read_lines_file(path: Path) -> str:
    """Return the text of a file of lines; raises `FileNotThere`, `FolderForFile` or `NotAccepted`."""
    if path.is_dir():
        raise FolderForFile(str(path), "file of lines")
    try:
        with path.open("rb") as file:
            return decode_lines(file.read(MOST_BYTES + 1), path.name)
    except FileNotFoundError as error:
        raise FileNotThere(str(path), "file") from error
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise NotAccepted(f"'{path}' could not be read ({why})", "Check the file and try again.") from error


def decode_lines(content: bytes, name: str) -> str:
    """Return a file's text: UTF-8, or UTF-16 where it says so; raises `NotAccepted` naming the first odd line."""
    if len(content) > MOST_BYTES:
        raise NotAccepted(
            f"'{name}' is longer than {MOST_BYTES // 1_000_000} MB, so it is hardly a file of sizes",
            "Check the name.",
        )
    utf_16 = content.startswith((b"\xff\xfe", b"\xfe\xff"))
    try:
        text = content.decode("utf-16" if utf_16 else "utf-8-sig")
        odd_at = text.find("\0")  # UTF-16 that does not say so
    except UnicodeDecodeError as error:
        odd_at = error.start
    if odd_at >= 0:
        line = content[:odd_at].count(b"\n") + 1
        raise NotAccepted(
            f"'{name}' is not written in UTF-8 (line {line} holds signs of another encoding)",
            "Save it as UTF-8 in your editor and try again.",
        )
    return text


def parse_lines(text: str, holding: Entry = _NOTHING_HOLDS) -> Parsed:
    """Return the sizes of the lines, each with what holds where it stands, and what is wrong with other lines.

    `holding` is what holds from the first line on.
    """
    entries: list[tuple[Line, Entry]] = []
    named: list[tuple[Line, str, str]] = []
    faults: list[Fault] = []
    left_empty = 0
    unread: dict[str, Line] = {}
    unsure: dict[int, Line] = {}
    for line, content in _numbered(text):
        word, colon, value = (part.strip() for part in content.partition(":"))
        holds = word.casefold() if colon and re.fullmatch(r"\w+", word) else None
        try:
            if holds is not None:
                holding = _held(holding, holds, value)
                unread.pop(holds, None)
                if value and holds in _LOOKED_UP:
                    named.append((line, _LOOKED_UP[holds], value))
            elif re.search(r"=\s*(#.*)?$", content):
                left_empty += 1
            else:
                entries.append((line, _entry(content, holding)))
                if unread:
                    unsure[line.number] = next(iter(unread.values()))
        except RivetbookError as refused:
            faults.append(_fault(line, refused))
            unread.update(dict.fromkeys(near_names(holds or "", HOLDING)[:1], line))
    return Parsed(tuple(entries), tuple(named), left_empty, tuple(faults), unsure)


def _numbered(text: str) -> Iterator[tuple[Line, str]]:
    """Yield the lines that say something, each with what it says without its remark."""
    for number, raw in enumerate(text.splitlines(), start=1):
        content = re.sub(r"(^|\s)#(\s.*)?$", "", raw).strip()
        if content and not content.startswith("#"):
            yield Line(number, raw.strip()), content


def record_lines(
    archive: Archive,
    subject: str,
    text: str,
    *,
    name: str = "the lines",
    keep_good: bool = False,
    **holding: str | None,
) -> LinesRecorded:
    """Write down all sizes of a file of lines for one subject, in one act; `holding` are fields of `Entry`.

    Raises `LinesNotSaved` with every fault, unless `keep_good`: then the good lines are kept and the faults
    handed back. Nothing is saved of a file without a good line.
    """
    held = {field: value for field, value in holding.items() if value is not None}
    parsed = parse_lines(text, Entry("", "", **held))
    faults = list(parsed.faults)
    with archive.change() as writer:
        whose = subjects.subject_named(writer, subject)
        checker = Checker(writer, whose)
        checked = _checked(checker, parsed, faults, keep_good=keep_good)
        told = _told(faults)
        if not checked and not told:
            raise NotAccepted(f"There is no size in {name}", "Write lines like: door height = 6ft 2in")
        if told and not (keep_good and checked):
            raise LinesNotSaved(name, told, len(faults), len(checked))
        recorded = write_down(writer, whose, checked, checker.held)
        writer.sentence = f"Wrote down {counted(len(recorded), 'size', 'sizes')} of {whose.name}"
    return LinesRecorded(whose, tuple(recorded), parsed.left_empty, len(faults), told)


def _checked(checker: Checker, parsed: Parsed, faults: list[Fault], *, keep_good: bool) -> list[Checked]:
    """Return the entries that can be kept, and add to the faults; what is not found is told where it was named."""
    checked: list[Checked] = []
    not_found: dict[tuple[str, str], list[Line]] = defaultdict(list)
    for line, field, name in parsed.named:
        try:
            checker.look_up(field, name)
        except RivetbookError as refused:
            faults.append(_fault(line, refused))
            not_found[field, name].append(line)
    for line, entry in parsed.entries:
        under = parsed.unsure.get(line.number)
        lacks: dict[str, Any] = {}
        for field in _LOOKED_UP.values() if not_found else ():
            lines = not_found.get((field, getattr(entry, field)), [])
            above = bisect_left(lines, line.number, key=attrgetter("number"))
            if above:
                lacks[field], under = None, lines[above - 1]
        try:
            each = checker.check(entry._replace(**lacks) if lacks else entry)
            if under is None:
                checked.append(each)
            elif keep_good:
                faults.append(Fault(line, f"It stands under line {under.number}, which could not be read."))
        except RivetbookError as refused:
            faults.append(_fault(line, refused))
    return checked


def _fault(line: Line, refused: RivetbookError) -> Fault:
    return Fault(line, what_is_wrong(str(refused)))  # that nothing was changed is said once, for all lines


def _told(faults: Iterable[Fault]) -> tuple[str, ...]:
    """Return each fault once with all its lines: a wrong word that holds spoils many."""
    lines: dict[str, list[Line]] = defaultdict(list)
    for fault in sorted(faults, key=lambda fault: fault.line.number):
        lines[fault.why].append(fault.line)
    told = [
        f"line {of[0].number}, '{shown(of[0].text)}': {why}" if len(of) == 1 else f"lines {_few(of)}: {why}"
        for why, of in lines.items()
    ]
    more = [f"{len(told) - _MOST_TOLD} other faults"] if len(told) > _MOST_TOLD else []
    return (*told[:_MOST_TOLD], *more)


def _few(lines: Sequence[Line]) -> str:
    numbers = [str(line.number) for line in lines[:_MOST_TOLD]]
    more = [f"{len(lines) - _MOST_TOLD} others"] if len(lines) > _MOST_TOLD else []
    return ", ".join(numbers + more)


def template(archive: Archive, subject: str) -> str:
    """Return a file of lines for a subject with the labels of its kind, ready to fill in."""
    with archive.look() as look:
        found, usual = subjects.subject_named(look, subject), thesaurus(kinds.own_kinds(look))
    if found.kind is None:
        raise NotAccepted(
            f"'{found.name}' has no kind, so its usual sizes are not known",
            f'Say what it is: rivetbook subject amend "{found.name}" --kind hut',
        )
    kind = usual.find(found.kind)
    lines = [
        f"# Sizes of {found.name} ({kind.name}). Fill in what you took; lines left empty are passed over.",
        f'# Then: rivetbook size add "{found.name}" --lines FILE',
        "# A line ends in the size as you noted it: 6ft 2in, 1.88 m, 12, 42°. After '#' anything goes.",
        "with:",
        "on:",
        "",
    ]
    if not usual.sizes(kind):
        lines.append("# None is usual for this kind: write a line for each, like 'door height = 6ft 2in'.")
    for label in usual.sizes(kind):
        spans = () if label.startswith("overall") else _SPANS.get(label.split()[-1], ())
        lines += [f"{label} /{span} =" for span in spans] or [f"{label} ="]
    return "\n".join(lines) + "\n"


def _held(holding: Entry, word: str, value: str) -> Entry:
    if word not in HOLDING:
        near = near_names(word, HOLDING)
        hint = f" Perhaps '{near[0]}:'." if near else ""
        raise NotAccepted(
            f"'{word}:' is none of {', '.join(f'{each}:' for each in HOLDING)}",
            f"A size is written with '=': {word} = {value or '6ft 2in'}.{hint}",
        )
    if word == "grade":
        return _graded(holding, value)
    changed: dict[str, Any] = {_LOOKED_UP.get(word, word): value or (AS_FOUND if word == "state" else None)}
    return holding._replace(**changed)


def _graded(holding: Entry, value: str) -> Entry:
    """'guess, the height of the man beside it', 'published, canal survey', 'sister, Upper crane'."""
    how, _, rests_on = (part.strip() for part in value.partition(","))
    if not value:
        how = "measured"
    grade = _GRADES.get(how.casefold())
    if grade is None or (grade in RESTS_ON and not rests_on):
        why = RESTS_ON[grade][0] if grade else f"'{how}' is no way to know a size"
        raise NotAccepted(
            why, "Write measured; guess, WHAT IT RESTS ON; published, SOURCE; or sister, SUBJECT."
        )
    return holding._replace(grade=grade, rests_on=rests_on or None)


def _entry(content: str, holding: Entry) -> Entry:
    label, equals, as_written = (part.strip() for part in content.partition("="))
    as_written = as_written.partition("#")[0].rstrip()  # no size holds one
    if not equals:
        name, colon, size = (part.strip() for part in content.partition(":"))
        like = f"{name} = {size}" if colon and name and size else "door height = 6ft 2in"
        raise NotAccepted("It is neither a size nor a word that holds", f"Write it like: {like}")
    label, span = parted_label(label)
    if not label:
        raise NotAccepted("The label is missing", "Write it like: door height = 6ft 2in")
    return holding._replace(label=label, as_written=as_written, span=span or "plain")
