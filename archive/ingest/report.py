"""What an import did, file by file."""

from __future__ import annotations

from dataclasses import dataclass, field

from archive.ingest.sources import LeftOut
from archive.records.history import Act
from archive.records.things import Visit

_FEW, _LISTED = 3, 12  # hints of one sort that are told in full, and files named after them


@dataclass(frozen=True, slots=True)
class FileWarning:
    """Something about one imported file that the person should know of."""

    file: str
    code: str
    message: str


@dataclass(frozen=True, slots=True)
class Hint:
    """What is likely of one imported photo, and what may be done about it at the command line; the page has its own words."""

    file: str
    code: str
    likely: str
    by_command: str = ""

    @property
    def message(self) -> str:
        """All of it, for the command line."""
        return f"{self.likely} {self.by_command}".strip()


@dataclass(frozen=True, slots=True)
class Held:
    """A file whose very bytes the archive has already."""

    file: str
    stored_path: str


@dataclass(frozen=True, slots=True)
class KeptBeside:
    """A file that is kept as another original of the photo that it came with, or beside the visit's photos.

    `role` is raw, film, sound, track, sidecar or edit; `photo` is None for what came with no photo.
    """

    file: str
    role: str
    photo: str | None


@dataclass(slots=True)
class ImportReport:
    """What an import did: every file it was given is in one of the first four lists."""

    visit: Visit | None = None
    visit_was_made: bool = False
    imported: list[str] = field(default_factory=list)
    kept_beside: list[KeptBeside] = field(default_factory=list)
    already_held: list[Held] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)
    warnings: list[FileWarning] = field(default_factory=list)
    hints: list[Hint] = field(default_factory=list)
    placed_by_track: int = 0  # photos that were given a place by a GPS track
    seconds: float = 0.0

    @property
    def few_hints(self) -> list[Hint]:
        """The hints, sort by sort, of each only the first few: a folder of copies is told once, not a thousand times."""
        few: list[Hint] = []
        for code in dict.fromkeys(each.code for each in self.hints):
            alike = [each for each in self.hints if each.code == code]
            few += alike[:_FEW]
            if more := [each.file for each in alike[_FEW:]]:
                listed = ", ".join(more[:_LISTED]) + (" and others" if len(more) > _LISTED else "")
                few.append(Hint(f"{len(more)} more", code, f"The same goes for {listed}."))
        return few

    @property
    def taken_out_by(self) -> dict[Act, list[str]]:
        """The acts that took photos out whose files were given again, each with these files."""
        acts: dict[Act, list[str]] = {}
        for left in self.left_out:
            if left.act is not None:
                acts.setdefault(left.act, []).append(left.file)
        return acts

    @property
    def has_doubts(self) -> bool:
        """Whether files were left out or are doubtful."""
        return bool(self.left_out or self.warnings)
