"""The originals of a visit on disk: where they lie, and the list of their checksums beside them."""

from __future__ import annotations

from pathlib import Path

from archive.records import durable, photos, visits
from archive.records.archive import Archive
from archive.records.things import Original, Photo, Visit

MANIFEST = "manifest-sha256.txt"


def path_of(archive: Archive, original: Original) -> Path:
    """Return where an original lies on this machine."""
    return archive.folder.joinpath(*original.stored_path.split("/"))


def picture_path(archive: Archive, photo: Photo) -> Path:
    """Return where a photo's picture lies on this machine."""
    return path_of(archive, photo.picture)


def visit_folder(archive: Archive, visit: Visit) -> Path:
    """Return a visit's folder, made if it is not there."""
    folder = archive.folder / "visits" / visit.folder
    if not folder.is_dir():
        folder.mkdir(parents=True, exist_ok=True)
        durable.flush_folder(folder.parent)
    return folder


def write_manifest(archive: Archive, visit: Visit) -> None:
    """Write the visit's list of checksums anew from the records, if it says anything else."""
    with archive.look() as look:
        held = photos.originals_of_visit(look, visit)
    prefix = f"visits/{visit.folder}/"
    lines = [f"{o.sha256}  {_escaped(o.stored_path.removeprefix(prefix))}\n" for o in held]
    content = "".join(lines).encode()
    manifest = visit_folder(archive, visit) / MANIFEST
    if not manifest.exists() or manifest.read_bytes() != content:
        durable.write_whole(manifest, content)


def write_manifests(archive: Archive) -> None:
    """Write the lists of all visits that say anything else than the records."""
    with archive.look() as look:
        every = visits.all_visits(look)
    for visit in every:
        write_manifest(archive, visit)


def _escaped(path: str) -> str:
    """Line ends and % as RFC 8493 (BagIt) writes them in a manifest."""
    return path.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")
