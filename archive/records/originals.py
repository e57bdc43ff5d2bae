"""The originals of a visit on disk: where they lie, and the list of their checksums beside them."""

from __future__ import annotations

from pathlib import Path

from archive.errors import FileGone
from archive.records import durable, manifests, visits
from archive.records.archive import Archive
from archive.records.things import Original, Photo, Visit


def path_of(archive: Archive, original: Original) -> Path:
    """Return where an original lies on this machine, also while its move is cut off."""
    return archive.path_of(original.stored_path)


def picture_path(archive: Archive, photo: Photo) -> Path:
    """Return where a photo's picture lies on this machine."""
    return path_of(archive, photo.picture)


def picture_there(archive: Archive, photo: Photo) -> Path:
    """Return where a photo's picture lies, to be read; raises `FileGone` where it is not there any more."""
    path = picture_path(archive, photo)
    if not path.exists():
        raise FileGone(photo.picture.stored_path)
    return path


def visit_folder(archive: Archive, visit: Visit) -> Path:
    """Return a visit's folder, made if it is not there."""
    return folder_of(archive, f"visits/{visit.folder}")


def folder_of(archive: Archive, place: str) -> Path:
    """Return the folder of a place such as 'visits/2023-06-17 wendle-basin', made if it is not there."""
    folder = archive.folder.joinpath(*place.split("/"))
    if not folder.is_dir():
        folder.mkdir(parents=True, exist_ok=True)
        durable.flush_folder(folder.parent)
    return folder


def write_manifest(archive: Archive, visit: Visit) -> None:
    """Write the visit's list of checksums anew from the records, if it says anything else."""
    with archive.look() as look:
        manifests.write_manifest(look, archive.folder, f"visits/{visit.folder}")


def write_manifests(archive: Archive) -> None:
    """Write the lists of all visits that say anything else than the records."""
    with archive.look() as look:
        for visit in visits.all_visits(look):
            manifests.write_manifest(look, archive.folder, f"visits/{visit.folder}")
