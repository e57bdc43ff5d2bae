"""Which files are one photo: a raw file and its picture, a short film, a voice note, sidecars, side files of edits.

Files belong together that lie in one place under one name, whatever their endings ('HC20_0412.JPG',
'hc20_0412.cr2', 'HC20_0412.xmp'), or that add an ending to a picture's whole name ('HC20_0412.JPG.xmp').
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from archive.ingest.metadata import PhotoMetadata
from archive.ingest.sources import Source
from archive.pictures import PictureFacts
from archive.records.folder import path_key


@dataclass(frozen=True, slots=True)
class Seen:
    """A file that was looked at. `sort` is picture, raw, film, sound, track, sidecar or edit."""

    source: Source
    bytes: int
    modified_ns: int
    sort: str
    facts: PictureFacts | None = None
    metadata: PhotoMetadata | None = None
    why_not_a_picture: str = ""


def put_together(seen: Sequence[Seen]) -> tuple[list[list[Seen]], list[Seen]]:
    """Return the photos, each as its picture followed by what came with it, and the files that are alone.

    Two pictures of one name are two photos; a raw file is the picture where no other shows its scene.
    Photos keep the order of their first file.
    """
    by_place: dict[str, list[Seen]] = defaultdict(list)
    for each in seen:
        by_place[each.source.place].append(each)
    groups: list[list[Seen]] = []
    alone: list[Seen] = []
    for files in by_place.values():
        place = _Place(files)
        groups += place.groups
        alone += place.alone
    order = {each.source: number for number, each in enumerate(seen)}
    groups.sort(key=lambda group: min(order[each.source] for each in group))
    return groups, alone


class _Place:
    """The files of one folder."""

    def __init__(self, files: Sequence[Seen]) -> None:
        self.groups: list[list[Seen]] = []
        self.alone: list[Seen] = []
        self._by_name: dict[str, list[Seen]] = {}
        self._by_stem: dict[str, list[list[Seen]]] = defaultdict(list)
        films = {_stem(each.source.name) for each in files if each.sort == "film"}
        ranked = sorted(files, key=lambda each: _RANK.get(each.sort, len(_RANK)))  # stable: order stays
        for each in ranked:
            if each.source.name.casefold().endswith(".thm") and _stem(each.source.name) in films:
                self.alone.append(
                    replace(each, sort="sidecar")
                )  # the small picture that cameras make of a film
                continue
            group = self._photo_of(each)
            if group is not None:
                group.append(each)
            elif each.facts is not None:
                self._add(each)
            else:
                self.alone.append(each)

    def _add(self, picture: Seen) -> None:
        group = [picture]
        self.groups.append(group)
        self._by_name[path_key(picture.source.name)] = group
        self._by_stem[_stem(picture.source.name)].append(group)

    def _photo_of(self, each: Seen) -> list[Seen] | None:
        if each.sort in ("picture", "track"):
            return None
        stem = _stem(each.source.name)
        same_name = self._by_stem.get(stem, [])
        if each.sort == "raw":
            return next((group for group in same_name if _one_moment(group[0], each)), None)
        whole_name = self._by_name.get(stem)
        if whole_name is not None:
            return whole_name
        if each.sort == "edit" and not each.source.name.casefold().endswith(".aae"):
            return None
        # What describes a name alone is most likely meant for its raw file.
        return next((group for group in same_name if len(group) > 1), next(iter(same_name), None))


_RANK = {"picture": 0, "raw": 1}


def _stem(name: str) -> str:
    stem, dot, _ = name.rpartition(".")
    return path_key(stem if dot and stem else name)


def _one_moment(picture: Seen, raw: Seen) -> bool:
    """Tell whether both say the same moment, as far as they say one."""
    if picture.sort != "picture" or picture.metadata is None or raw.metadata is None:
        return False
    moments = {picture.metadata.taken, raw.metadata.taken} - {None}
    return len(moments) < 2
