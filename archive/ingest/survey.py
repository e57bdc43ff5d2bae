"""What was given to an import: every file looked at for what it is, put together with what belongs to it, or left out."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path

from archive import pictures
from archive.errors import FileNotThere, PictureNotReadable, SourceNotRead, TrackNotReadable
from archive.ingest.belonging import Seen, put_together
from archive.ingest.gpx import is_gpx, read_track
from archive.ingest.metadata import PhotoMetadata, read_metadata, read_sidecar, with_sidecar
from archive.ingest.sources import File, LeftOut, Source, shown_path, sources_in
from archive.ingest.zip_files import ZipSources, is_zip
from archive.pictures import PictureFacts, PictureWarning


@dataclass(frozen=True, slots=True)
class FileSeen:
    """A file as it was when it was looked at, and the role that it has in its photo."""

    source: Source
    bytes: int
    modified_ns: int
    role: str


@dataclass(frozen=True, slots=True)
class Surveyed:
    """A photo that can be imported: its picture, and the files that came with it."""

    picture: FileSeen
    beside: tuple[FileSeen, ...]
    facts: PictureFacts
    metadata: PhotoMetadata
    page: int = 1  # of a file with several


def survey(
    paths: Sequence[Path],
    *,
    inside_archive: Path,
    progress: Callable[[str, int, int], None],
    keep_open: ExitStack,
) -> tuple[list[Surveyed], list[FileSeen], list[LeftOut]]:
    """Find every file in `paths` and read what it is; raises `FileNotThere` before anything is read.

    Returns the photos, the films, voice notes and tracks that came with none, and what is left out.

    ZIP files are looked into, and stay open for `keep_open`. What lies in the archive itself is left out: it
    is in it already.
    """
    for path in paths:
        if not os.path.exists(path):  # noqa: PTH110  # a path that may not even be looked at is not there for us
            raise FileNotThere(shown_path(path))
    left_out: list[LeftOut] = []
    on_disk = dict.fromkeys(s for path in paths for s in sources_in(path, inside_archive, left_out))
    on_disk_first = sorted(
        on_disk, key=lambda file: file.path.is_symlink()
    )  # a file has its name from where it lies
    files = [source for file in on_disk_first for source in _looked_into(file, left_out, keep_open)]
    seen: list[Seen] = []
    for number, source in enumerate(files):
        progress("Reading", number, len(files))
        looked = _look_at(source)
        if isinstance(looked, Seen):
            seen.append(looked)
        else:
            left_out.append(looked)
    progress("Reading", len(files), len(files))
    groups, alone = put_together(seen)
    photos = [_surveyed(group[0], group[1:]) for group in groups]
    loose = [each for each in alone if _is_worth_keeping(each)]
    left_out += [
        LeftOut(each.source.shown, _WHY_NOT_ALONE.get(each.sort, each.why_not_a_picture))
        for each in alone
        if not _is_worth_keeping(each)
    ]
    return photos, [_file(each, each.sort) for each in loose], left_out


def _is_worth_keeping(alone: Seen) -> bool:
    """Films and voice notes hold readings, a track tells places; a film's own small picture goes with it."""
    return alone.sort in ("film", "sound", "track") or alone.facts is not None


def _looked_into(file: File, left_out: list[LeftOut], keep_open: ExitStack) -> Iterator[Source]:
    """Yield the files in a ZIP file; any other file as it is."""
    try:
        if not (file.path.is_file() and is_zip(file.path)):
            yield file
            return
        yield from ZipSources(file, file.path, keep_open).sources(left_out)
    except SourceNotRead as error:
        left_out.append(LeftOut(file.shown, error.why))
    except OSError:
        yield file  # what is wrong with it is said when it is looked at


_WHY_NOT_ALONE = {
    "sidecar": "it says things of a photo that does not lie beside it; import the two together",
}


def _look_at(source: Source) -> Seen | LeftOut:
    try:
        with source.at_hand() as file:
            if not file.is_file():
                nowhere = file.is_symlink() and not file.exists()
                why = "it is a link that leads nowhere" if nowhere else "it is no ordinary file"
                return LeftOut(source.shown, why)
            if not isinstance(source, File) and is_zip(file):
                return LeftOut(
                    source.shown, "it is a ZIP file within a ZIP file; unpack it and import the folder"
                )
            as_seen = file.stat()
            size_and_time = as_seen.st_size, as_seen.st_mtime_ns
            try:
                facts, metadata = pictures.inspect(file), read_metadata(file)
            except PictureNotReadable as error:
                sort = _companion_sort(source.name, file)
                if sort is None:
                    return LeftOut(source.shown, error.why)
                if sort == "track":
                    read_track(file)
                said = _sidecar(file) if sort == "sidecar" else None
                return Seen(source, *size_and_time, sort, why_not_a_picture=error.why, metadata=said)
            sort = "raw" if facts.is_raw else "picture"
            return Seen(source, *size_and_time, sort, facts=facts, metadata=metadata)
    except TrackNotReadable as error:
        return LeftOut(source.shown, f"it is a GPS track that cannot be read: {error.why}")
    except SourceNotRead as error:
        return LeftOut(source.shown, error.why)
    except OSError as error:
        return LeftOut(source.shown, f"it could not be read ({error.strerror or error})")


def _companion_sort(name: str, file: Path) -> str | None:
    """What a file that is no picture may be to a picture beside it."""
    ending = name.rpartition(".")[2].casefold()
    if ending == "xmp":
        return "sidecar"
    sort = pictures.film_sound_or_text(file)
    if sort == "text" and _is_gpx(file):
        return "track"
    if sort == "text":  # what a phone or a program notes of an edit: 'P5_0412.AAE', 'HC20_0412.JPG.ini'
        return "edit" if ending == "aae" or name.count(".") > 1 else None
    return sort


def _is_gpx(file: Path) -> bool:
    with file.open("rb") as text:
        return is_gpx(text.read(4096))


def _sidecar(file: Path) -> PhotoMetadata | None:
    try:
        return read_sidecar(file)
    except PictureNotReadable:
        return None


def _surveyed(picture: Seen, beside: Sequence[Seen]) -> Surveyed:
    assert picture.facts is not None
    assert picture.metadata is not None
    metadata = picture.metadata
    for each in beside:
        if each.sort == "sidecar":
            metadata = _told_by_sidecar(metadata, each)
    return Surveyed(
        _file(picture, "picture"), tuple(_file(each, each.sort) for each in beside), picture.facts, metadata
    )


def _told_by_sidecar(metadata: PhotoMetadata, sidecar: Seen) -> PhotoMetadata:
    if sidecar.metadata is not None:
        return with_sidecar(metadata, sidecar.metadata)
    unread = PictureWarning(
        "sidecar-damaged",
        f"Its sidecar {sidecar.source.name} is no readable XMP; it is kept as it is, and nothing was taken from it.",
    )
    return replace(metadata, warnings=(*metadata.warnings, unread))


def _file(each: Seen, role: str) -> FileSeen:
    return FileSeen(each.source, each.bytes, each.modified_ns, role)
