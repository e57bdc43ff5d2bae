"""Putting right, as use cases: each is one act of the history, with best figures worked out anew.

Every function returns the sentence that tells what was done; both doors show it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from archive import wording
from archive.dimensions.estimates import recompute
from archive.dimensions.readings import Recorded, parted_label, record_correction
from archive.dimensions.verdicts import judge_touched
from archive.errors import NotAccepted
from archive.kinds import thesaurus
from archive.records import kinds, photos, sizes, subjects, visits
from archive.records import putting_right as rows
from archive.records.archive import Archive
from archive.records.changes import Look, Writer
from archive.records.choosing import photos_of_words
from archive.records.entering import check_zone, parse_days
from archive.records.following import follow
from archive.records.ledgers import drop_unused_sources
from archive.records.names import clean_name
from archive.records.things import Dimension, Photo, Reading, Subject

# How rows of a table are counted for people; others are not worth telling.
_COUNTED = {
    "dimension": ("size", "sizes"),
    "reading": ("reading", "readings"),
    "sighting": ("link to a photo", "links to photos"),
}


def rename_subject(archive: Archive, subject: str, name: str, *, keep_old: bool = False) -> str:
    """Give a subject another name; raises `NameTaken`."""
    with archive.change() as writer:
        before = subjects.subject_named(writer, subject)
        after = rows.rename_subject(writer, before, name, keep_old=keep_old)
        writer.sentence = f"Renamed the subject {before.name} to {after.name}"
    kept = f" It is still found as '{before.name}'." if before.name in after.also else ""
    return f"'{before.name}' is now called '{after.name}'.{kept}"


def amend_subject(
    archive: Archive,
    subject: str,
    *,
    name: str | None = None,
    also: Sequence[str] = (),
    no_longer: Sequence[str] = (),
    **facts: str | None,
) -> str:
    """Put in other facts of a subject: name, kind, part_of, place, maker, numbers, era, notes; '' clears one."""
    given = _given(facts, "kind, place, maker, notes and so on", name is not None, also, no_longer)
    told = _told(given, name=name is not None, other_names=also or no_longer)
    with archive.change() as writer:
        if given.get("kind"):
            given["kind"] = thesaurus(kinds.own_kinds(writer)).find(str(given["kind"])).id
        found = subjects.subject_named(writer, subject)
        writer.sentence = f"Amended the subject {found.name}: {told}"
        if name is not None:
            found = rows.rename_subject(writer, found, name, keep_old=False)
        after = rows.amend_subject(writer, found, given, also=also, no_longer=no_longer)
        _refuse_if_so_already(writer, f"'{found.name}'")
        judge_touched(writer)
    return f"Amended '{after.name}'."


def merge_subjects(archive: Archive, other: str, into: str) -> str:
    """Make two subjects one; everything of the other goes to the one it is merged into."""
    with archive.change() as writer:
        kept, gone = subjects.subject_named(writer, into), subjects.subject_named(writer, other)
        writer.sentence = f"Merged the subject {gone.name} into {kept.name}"
        doubly = _seen_in_two_ways(writer, kept, gone)
        after = rows.merge_subjects(writer, kept, gone)
        _tidy(writer, sizes.dimensions_of(writer, after))
        held = len(sizes.dimensions_of(writer, after)), len(photos.photos_showing(writer, after))
    return (
        f"'{gone.name}' is now part of '{after.name}', which is found by both names and has "
        f"{wording.counted(held[0], 'size', 'sizes')} and {wording.counted(held[1], 'photo', 'photos')}.{doubly}"
    )


def split_subject(
    archive: Archive, subject: str, into: str, *, labels: Sequence[str] = (), shown_by: Sequence[str] = ()
) -> str:
    """Make a new subject of some sizes and photos of another."""
    with archive.change() as writer:
        found = subjects.subject_named(writer, subject)
        moved = [d for label in labels for d in sizes.dimensions_labelled(writer, found, label)]
        pictures = photos_of_words(writer, shown_by) if shown_by else []
        made = rows.split_subject(writer, found, into, dimensions=moved, shown_by=pictures)
        writer.sentence = f"Split {made.name} off the subject {found.name}"
        judge_touched(writer)
    return (
        f"Made '{made.name}' with {wording.counted(len(moved), 'size', 'sizes')} and "
        f"{wording.counted(len(pictures), 'photo', 'photos')} of '{found.name}'."
    )


def remove_subject(archive: Archive, subject: str) -> str:
    """Take a subject out with its sizes and links; its photos stay."""
    with archive.change() as writer:
        found = subjects.subject_named(writer, subject)
        writer.sentence = f"Removed the subject {found.name}"
        gone = rows.remove_subject(writer, found)
        _tidy(writer, [])
    went = [wording.counted(gone[name], *words) for name, words in _COUNTED.items() if name in gone]
    return f"Removed '{found.name}'{_with(went)}. Its photos stay. To bring it back: rivetbook undo"


def rename_visit(archive: Archive, visit: str, name: str, *, keep_old: bool = False) -> str:
    """Give a visit another name; its folder on disk keeps the name it has."""
    with archive.change() as writer:
        before = visits.visit_named(writer, visit)
        after = rows.rename_visit(writer, before, name, keep_old=keep_old)
        writer.sentence = f"Renamed the visit {before.name} to {after.name}"
    kept = f" It is still found as '{before.name}'." if keep_old else ""
    return (
        f"The visit '{before.name}' is now called '{after.name}'; "
        f"its folder is still 'visits/{after.folder}'.{kept}"
    )


def amend_visit(
    archive: Archive, visit: str, *, name: str | None = None, days: str | None = None, **facts: str | None
) -> str:
    """Put in other facts of a visit: name, days, place, zone, people, access_notes; '' clears one."""
    given = _given(facts, "place, days, zone, people or access", name is not None, days is not None)
    told = _told(given, name=name is not None, days=days is not None)
    if days is not None:
        given["first_day"], given["last_day"] = parse_days(days) if days else (None, None)
    if "zone" in given:
        given["zone"] = check_zone(given["zone"] or "")
    with archive.change() as writer:
        found = visits.visit_named(writer, visit)
        writer.sentence = f"Amended the visit {found.name}: {told}"
        if name is not None:
            found = rows.rename_visit(writer, found, name, keep_old=False)
        after = rows.amend_visit(writer, found, given)
        _refuse_if_so_already(writer, f"the visit '{found.name}'")
    return f"Amended the visit '{after.name}'."


def merge_visits(archive: Archive, other: str, into: str) -> str:
    """Make two visits one; photos go to the one it is merged into, with their files."""
    with archive.change() as writer:
        kept, gone = visits.visit_named(writer, into), visits.visit_named(writer, other)
        writer.sentence = f"Merged the visit {gone.name} into {kept.name}"
        came = photos.all_photos(writer, visit=gone)
        after = rows.merge_visits(writer, kept, gone)
        otherwise = _called_otherwise(writer, came)
    return (
        f"The visit '{gone.name}' is now part of '{after.name}', which is found by both names and has "
        f"{wording.counted(after.photos, 'photo', 'photos')}.{otherwise}"
    )


def move_photos(archive: Archive, words: Sequence[str], to: str) -> str:
    """Put photos into another visit; their files follow into its folder."""
    with archive.look() as look:
        chosen, visit = photos_of_words(look, words), visits.visit_named(look, to)
    with archive.change(f"Moved {_named(chosen)} to the visit {visit.name}") as writer:
        rows.move_photos(writer, chosen, visit)
        _refuse_if_so_already(writer, _named(chosen))
        otherwise = _called_otherwise(writer, chosen)
    return f"{_named(chosen)} {_is(chosen)} now in the visit '{visit.name}'.{otherwise}"


def amend_photos(archive: Archive, words: Sequence[str], **facts: str | None) -> str:
    """Put in another caption, creator or rights; '' clears one. The files themselves are never altered."""
    given = _given(facts, "--caption, --creator or --rights")
    with archive.look() as look:
        chosen = photos_of_words(look, words)
    with archive.change(f"Amended {_named(chosen)}: {_told(given)}") as writer:
        for photo in chosen:
            rows.amend_photo(writer, photo, given)
        _refuse_if_so_already(writer, _named(chosen))
    return f"Amended {_named(chosen)}. The files are as they were."


def remove_photos(archive: Archive, words: Sequence[str]) -> str:
    """Take photos out: their files go to `removed/`, sizes that name one as evidence keep all else."""
    with archive.look() as look:
        chosen = photos_of_words(look, words)
    with archive.change(f"Removed {_named(chosen)}") as writer:
        for photo in chosen:
            rows.remove_photo(writer, photo)
        follow(writer, {photo.visit_key for photo in chosen})  # the order of those that stay
        recompute(writer, [])  # what was worked out from them keeps its figure, and says so
    whose = "Its files lie" if len(chosen) == 1 else "Their files lie"
    return (
        f"Removed {_named(chosen)}. {whose} in 'removed' with their checksums. To bring back: rivetbook undo"
    )


def unlink_photos(archive: Archive, words: Sequence[str], named: Sequence[str]) -> str:
    """Say that photos do not show subjects."""
    with archive.look() as look:
        chosen = photos_of_words(look, words)
        shown = [subjects.subject_named(look, each) for each in named]
    names = wording.listed([s.name for s in shown])
    with archive.change(f"Unlinked {_named(chosen)} from {names}") as writer:
        for photo in chosen:
            for subject in shown:
                rows.unlink(writer, photo, subject)
    return f"{_named(chosen)} no longer {'shows' if len(chosen) == 1 else 'show'} {names}."


def amend_size(
    archive: Archive,
    subject: str,
    label: str,
    as_written: str,
    *,
    reading: str | None = None,
    why: str | None = None,
) -> Recorded:
    """Correct a reading: a new one takes its place, the old one is kept as it was written."""
    with archive.change() as writer:
        whose = subjects.subject_named(writer, subject)
        dimension, old = _reading_meant(writer, whose, label, reading)
        if as_written.strip() == old.as_written.strip():
            raise NotAccepted(
                f"'{old.as_written}' is what the reading says already", "Write what it should say."
            )
        writer.sentence = f"Corrected '{dimension.called}' of {whose.name} to {as_written}"
        return record_correction(writer, whose, dimension, old, as_written, why=why)


def set_reading_aside(archive: Archive, reading: str, why: str) -> str:
    """Let a reading count no longer, and say why; it is kept."""
    if not why.strip():
        raise NotAccepted("No reason was given", "Say why, for whoever reads this in ten years.")
    with archive.change() as writer:
        found = sizes.reading_named(writer, reading)
        _check_it_counts(found)
        writer.sentence = f"Set the reading '{found.as_written}' aside: {why.strip()}"
        rows.set_reading_aside(writer, found.key, why.strip())
        (dimension,) = sizes.dimensions_by_key(writer, [found.dimension_key])
        recompute(writer, [dimension])
        left = sizes.estimates_of(writer, [dimension])
    rest = "" if left else f" '{dimension.label}' of {dimension.subject} has no figure now."
    return f"The reading '{found.as_written}' is kept but counts no longer.{rest}"


def move_size(
    archive: Archive, subject: str, label: str, *, to_subject: str | None = None, to_label: str | None = None
) -> str:
    """Put a size, all spans and states of it, under another subject or label."""
    if to_subject is None and to_label is None:
        raise NotAccepted("It was not said where the size goes", "Name --to-subject, --to-label or both.")
    with archive.change() as writer:
        found = subjects.subject_named(writer, subject)
        target = subjects.subject_named(writer, to_subject) if to_subject else found
        if target.key == found.key and clean_name(to_label or label) == clean_name(label):
            raise NotAccepted(
                f"'{label}' is a size of {found.name} already", "Name another subject or label."
            )
        if parted_label(to_label or "")[1]:
            raise NotAccepted("How a size is taken stays as it is when it moves", "Name the label alone.")
        sources = sizes.dimensions_labelled(writer, found, label)
        moved = [rows.move_dimension(writer, d, to=target, label=to_label or d.label) for d in sources]
        before, after = (each[0].called if len(each) == 1 else each[0].label for each in (sources, moved))
        writer.sentence = f"Moved the size '{before}' of {found.name} to '{after}' of {target.name}"
        _tidy(writer, moved)
        joined = [d for d in moved if d.key not in {source.key for source in sources}]
        together = sizes.estimates_of(writer, joined)
    said = [f"'{before}' of {found.name} is now '{after}' of {target.name}."]
    for best in together.values():
        known = wording.size(best.quantity, best.value, (best.low_95, best.high_95))
        said.append(f"It had readings there already; best figure from all {best.readings}: {known}.")
        said += [warned.message for warned in best.warnings]
    return "\n".join([*said, "If that was not meant: rivetbook undo"] if joined else said)


def _tidy(writer: Writer, dimensions: Sequence[Dimension]) -> None:
    recompute(writer, dimensions)
    drop_unused_sources(writer)


def _reading_meant(
    writer: Writer, subject: Subject, label: str, reading: str | None
) -> tuple[Dimension, Reading]:
    found = sizes.dimensions_labelled(writer, subject, label)
    held = sizes.readings_of(writer, found)
    every = [r for d in found for r in held[d.key]]
    for named in every:
        if named.id == reading:
            _check_it_counts(named)
    standing = [r for r in every if r.stands]
    meant = [r for r in standing if reading is None or r.id == reading or r.as_written == reading]
    if len(meant) != 1:
        listed = "; ".join(f"{r.id} ('{r.as_written}')" for r in standing)
        raise NotAccepted(
            f"'{label}' of {subject.name} has {wording.counted(len(standing), 'reading', 'readings')} that count"
            + (f", and '{reading}' is {'more than one' if meant else 'none'} of them" if reading else ""),
            f"Name one with --reading: {listed}." if standing else "Write a new one down instead.",
        )
    if meant[0].derived_by is not None:
        raise NotAccepted(
            f"'{meant[0].as_written}' was worked out and not read",
            "Put right what it is worked out from (its marks, with 'rivetbook mark', or the sizes in it), and it follows; or set it aside.",
        )
    return next(d for d in found if d.key == meant[0].dimension_key), meant[0]


def _check_it_counts(reading: Reading) -> None:
    """Refuse to put right what was put right before: that would be lost."""
    if not reading.stands:
        done = "was corrected" if reading.replaced else f"was set aside ({reading.set_aside})"
        raise NotAccepted(
            f"The reading '{reading.as_written}' {done} before and counts no longer",
            "Look at the size again and put right a reading that counts.",
        )


def _given(facts: dict[str, str | None], such_as: str, *others: object) -> dict[str, str | None]:
    given = {name: value or None for name, value in facts.items() if value is not None}
    if not given and not any(others):
        raise NotAccepted("It was not said what to amend", f"Give {such_as}.")
    return given


def _refuse_if_so_already(writer: Writer, what: str) -> None:
    """An act that changes nothing is none: 'undo' would take back the one before it."""
    if not writer.touched():
        raise NotAccepted(f"That is what is said of {what} already", "Say what is to be otherwise.")


def _seen_in_two_ways(look: Look, kept: Subject, other: Subject) -> str:
    """Tell of photos that show two subjects from different sides: of one that is made of both one view stays."""
    told = []
    for photo in photos.photos_showing(look, other):
        view = {s.subject_id: s.view for s in photo.sightings}
        mine, theirs = view.get(kept.id), view[other.id]
        if mine and theirs and mine != theirs:
            told.append(f" {photo.file} stays '{mine}'; of the other it was '{theirs}'.")
    return "".join(told)


def _called_otherwise(look: Look, before: Sequence[Photo]) -> str:
    """Tell of photos that have another name where they lie now, for theirs was taken there."""
    after = {photo.key: photo.file for photo in photos.photos_by_key(look, [p.key for p in before])}
    told = [f"{p.file} is called '{after[p.key]}' there" for p in before if after[p.key] != p.file]
    return f" {'; '.join(told)}: the name was taken." if told else ""


def _told(facts: Iterable[str], **others: object) -> str:
    """Which facts were amended, in words; of the others those that hold."""
    names = [*(name for name, amended in others.items() if amended), *facts]
    return wording.listed([name.replace("_", " ") for name in names])


def _named(chosen: Sequence[Photo]) -> str:
    if len(chosen) <= 3:
        return wording.listed([photo.file for photo in chosen])
    return f"{len(chosen)} photos, {chosen[0].file} to {chosen[-1].file}"


def _is(chosen: Sequence[Photo]) -> str:
    return "is" if len(chosen) == 1 else "are"


def _with(parts: Sequence[str]) -> str:
    return f" with {', '.join(parts)}" if parts else ""
