"""The one exception tree: every message says what happened, to what, what was kept, what to do next.

The doors turn a `RivetbookError` into its sentence and its `exit_status`; anything else is a bug.
Every class hands all its fields to `Exception.__init__`, so that it pickles.
"""

from __future__ import annotations

import errno
import re

# What a disk or its rights refuse wherever it happens; any other error of the system is a bug of ours.
NOT_OUR_FAULT = frozenset(
    {
        errno.ENOSPC,
        errno.EDQUOT,
        errno.EACCES,
        errno.EPERM,
        errno.EROFS,
        errno.EIO,
        errno.ENAMETOOLONG,
    }
)


def shown(text: str, longest: int = 60) -> str:
    """Return `text` fit for a message: cut short, and with what cannot be printed written as escapes."""
    cut = text if len(text) <= longest else text[:longest] + "…"
    return "".join(character if character.isprintable() else repr(character)[1:-1] for character in cut)


class RivetbookError(Exception):
    """Something that the person can understand and put right."""

    exit_status = 1

    @property
    def without_commands(self) -> str:
        """The message for somebody who has buttons before them."""
        return str(self)


def what_is_wrong(message: str) -> str:
    """Return a refusal without that nothing was changed: where nothing was to be, or that is said once for many."""
    return re.sub(r"[;,] (so )?nothing was changed\.", ".", message)


class LengthNotUnderstood(RivetbookError, ValueError):
    """A length, or another quantity that `what` names, was written in a way that has no single meaning."""

    def __init__(self, as_written: str, why: str, instead: str, what: str = "a length") -> None:
        super().__init__(as_written, why, instead, what)
        self.as_written, self.why, self.instead, self.what = as_written, why, instead, what

    def __str__(self) -> str:
        return f"'{shown(self.as_written)}' was not understood as {self.what}: {self.why}. {self.instead}"


class NotationNotUnderstood(RivetbookError, ValueError):
    """A sum or a run was written in a way that has no single meaning; the message points at the place.

    `what` is 'tally', 'sum' or 'run'; `column` counts the characters before the place.
    """

    def __init__(self, what: str, as_written: str, column: int, why: str, instead: str) -> None:
        super().__init__(what, as_written, column, why, instead)
        self.what, self.as_written, self.column = what, as_written, column
        self.why, self.instead = why, instead

    def __str__(self) -> str:
        start = max(0, self.column - 50)
        around = self.as_written[start : start + 100]
        line = "".join(character if character.isprintable() else " " for character in around)
        return (
            f"The {self.what} was not understood, and nothing was saved: {self.why}. {self.instead}\n"
            f"    {line}\n"
            f"    {' ' * (self.column - start)}^"
        )


class ScaleNotUnderstood(RivetbookError, ValueError):
    """A scale was written in a way that has no single meaning."""

    def __init__(self, as_written: str, why: str, instead: str) -> None:
        super().__init__(as_written, why, instead)
        self.as_written, self.why, self.instead = as_written, why, instead

    def __str__(self) -> str:
        return f"'{shown(self.as_written)}' was not understood as a scale: {self.why}. {self.instead}"


class UnknownKind(RivetbookError):
    """A kind of thing that neither the thesaurus nor the person's own list holds."""

    def __init__(self, asked: str, near: tuple[str, ...] = ()) -> None:
        super().__init__(asked, near)
        self.asked, self.near = asked, near

    @property
    def without_commands(self) -> str:
        """What there is not, and what is near it."""
        near = f" Perhaps: {', '.join(self.near)}." if self.near else ""
        return f"There is no kind called '{shown(self.asked)}', so nothing was changed.{near}"

    def __str__(self) -> str:
        if self.near:
            return self.without_commands
        return f"{self.without_commands} 'rivetbook kinds' shows them all, and 'rivetbook kind add' adds your own."


class CannotEstimate(RivetbookError, ValueError):
    """Readings, checks or tallies from which no honest figure follows.

    `code` is stable and short ('singular-covariance'), for programs; `sentence` is for people.
    """

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(code, sentence)
        self.code, self.sentence = code, sentence

    def __str__(self) -> str:
        return self.sentence


class MarksNotUsable(RivetbookError, ValueError):
    """Marks on a photo from which a size cannot be had; the sentence says what to mark instead.

    `code` is stable and short ('marks-collinear'), for programs; `sentence` is for people.
    """

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(code, sentence)
        self.code, self.sentence = code, sentence

    def __str__(self) -> str:
        return self.sentence


class SheetNotUnderstood(RivetbookError, ValueError):
    """A sheet from which sizes were to be worked out makes no sense; `faults` name each place and what to write."""

    def __init__(self, name: str, faults: tuple[str, ...]) -> None:
        super().__init__(name, faults)
        self.name, self.faults = name, faults

    def __str__(self) -> str:
        listed = "\n".join(f"  {shown(fault, 400)}" for fault in self.faults)
        return f"The sheet '{shown(self.name)}' was not understood, so nothing was saved:\n{listed}\nPut this right and try again."


class NotWorkedOut(RivetbookError):
    """Sizes that cannot be had from a sheet's marks; `faults` name each asked size and what to mark instead."""

    def __init__(self, name: str, faults: tuple[str, ...]) -> None:
        super().__init__(name, faults)
        self.name, self.faults = name, faults

    def __str__(self) -> str:
        listed = "\n".join(f"  {fault}" for fault in self.faults)
        return f"Nothing was worked out from the sheet '{shown(self.name)}', and nothing was saved:\n{listed}"


class SizesInACircle(RivetbookError):
    """A change after which a size would be worked out from itself; `path` names the sizes on the way round."""

    def __init__(self, path: tuple[str, ...]) -> None:
        super().__init__(path)
        self.path = path

    def __str__(self) -> str:
        first, *others = self.path
        way = f"{first} is worked out from {', which is worked out from '.join(others)}"
        return (
            f"A size would be worked out from itself, so nothing was changed: {way}. "
            "Take another size as the known one, or measure one of these."
        )


class PictureNotReadable(RivetbookError):
    """A file that no picture can be had from, or not safely."""

    def __init__(self, name: str, why: str) -> None:
        super().__init__(name, why)
        self.name, self.why = name, why

    def __str__(self) -> str:
        return f"{self.name}: {self.why}"


class PictureTooLarge(PictureNotReadable):
    """A picture that cannot be decoded within the stated memory, at the size that was asked for."""

    def __init__(self, name: str, megapixels: float) -> None:
        super().__init__(name, f"the picture is far too large to decode safely ({megapixels:.0f} megapixels)")
        self.args = name, megapixels  # what it is made of again, in another process
        self.megapixels = megapixels


class FileNotThere(RivetbookError):
    """A file or folder that was named is not there."""

    def __init__(self, path: str, wanted: str = "file or folder") -> None:
        super().__init__(path, wanted)
        self.path, self.wanted = path, wanted

    def __str__(self) -> str:
        return f"There is no {self.wanted} at '{self.path}', so nothing was changed. Check the path and try again."


class FolderForFile(RivetbookError):
    """A folder was named where a file is wanted."""

    def __init__(self, path: str, wanted: str) -> None:
        super().__init__(path, wanted)
        self.path, self.wanted = path, wanted

    def __str__(self) -> str:
        return f"'{self.path}' is a folder and no {self.wanted}, so nothing was changed. Name the {self.wanted} in it."


class NoArchive(RivetbookError):
    """No archive was named and none was found."""

    def __init__(self, usual: str) -> None:
        super().__init__(usual)
        self.usual = usual

    def __str__(self) -> str:
        return (
            f"No archive was found: neither this folder nor one above it is one, and there is none at '{self.usual}'. "
            "Make one with 'rivetbook new', or say where it is with --archive FOLDER."
        )


class NotAnArchive(RivetbookError):
    """The folder that was named is there, but is no archive."""

    def __init__(self, folder: str, why: str) -> None:
        super().__init__(folder, why)
        self.folder, self.why = folder, why

    def __str__(self) -> str:
        return (
            f"'{self.folder}' is not a Rivetbook archive: {self.why}. It was left as it is. "
            "Name another folder with --archive, or make an archive with 'rivetbook new FOLDER'."
        )


class CannotMakeArchive(RivetbookError):
    """An archive cannot be made in this folder."""

    def __init__(self, folder: str, why: str) -> None:
        super().__init__(folder, why)
        self.folder, self.why = folder, why

    def __str__(self) -> str:
        return f"No archive was made in '{self.folder}': {self.why}. Choose a new or an empty folder."


class ArchiveTooNew(RivetbookError):
    """A newer program made this archive."""

    def __init__(self, folder: str, found: int, newest: int, what: str = "record keeping") -> None:
        super().__init__(folder, found, newest, what)
        self.folder, self.found, self.newest, self.what = folder, found, newest, what

    def __str__(self) -> str:
        return (
            f"The archive '{self.folder}' was made by a newer Rivetbook (its {self.what} is number {self.found}, this "
            f"program knows up to {self.newest}). It was left untouched. Install the newer Rivetbook and try again."
        )


class ArchiveDamaged(RivetbookError):
    """The archive's database cannot be read."""

    def __init__(self, folder: str, why: str) -> None:
        super().__init__(folder, why)
        self.folder, self.why = folder, why

    def __str__(self) -> str:
        return (
            f"The database of the archive '{self.folder}' cannot be read ({self.why}). Nothing was changed, and the photos "
            "in its folder 'visits' are plain files that you can still open. Copies of the database from before upgrades "
            "are in 'set-aside'."
        )


class UpgradeFailed(RivetbookError):
    """A migration of the archive failed; the archive is as it was."""

    def __init__(self, folder: str, aside: str, why: str) -> None:
        super().__init__(folder, aside, why)
        self.folder, self.aside, self.why = folder, aside, why

    def __str__(self) -> str:
        return (
            f"The archive '{self.folder}' could not be brought up to date ({self.why}). It is as it was, and the Rivetbook "
            f"that you had before still opens it; a copy of its database is in '{self.aside}'."
        )


class ArchiveBusy(RivetbookError):
    """Another writer held the archive for longer than we wait."""

    def __init__(self, folder: str, waited_seconds: float) -> None:
        super().__init__(folder, waited_seconds)
        self.folder, self.waited_seconds = folder, waited_seconds

    def __str__(self) -> str:
        return (
            f"Another Rivetbook is writing to '{self.folder}'; after waiting {self.waited_seconds:.0f} s nothing was "
            "changed here. Try again when it has finished."
        )


class ArchiveReadOnly(RivetbookError):
    """The archive lies where nothing can be written."""

    def __init__(self, folder: str) -> None:
        super().__init__(folder)
        self.folder = folder

    def __str__(self) -> str:
        return (
            f"The archive '{self.folder}' is in a place that cannot be written, so nothing was changed. Looking, finding and "
            "packing work; to add to it, copy the whole folder to a place of your own."
        )


class TrackNotReadable(RivetbookError):
    """A GPS track cannot be read."""

    def __init__(self, file: str, why: str) -> None:
        super().__init__(file, why)
        self.file, self.why = file, why

    def __str__(self) -> str:
        return f"The GPS track '{shown(self.file)}' cannot be read: {self.why}. No places were taken from it."


# What to do where nothing of a sort has the name, nor one like it.
_WHERE_TO_LOOK = {
    "subject": "'rivetbook subject list' shows those there are, and 'rivetbook subject add' adds one.",
    "visit": "'rivetbook visit list' shows those there are, and 'rivetbook visit add' adds one.",
    "instrument": "'rivetbook instrument list' shows those there are, and 'rivetbook instrument add' adds one.",
    "build": "'rivetbook build list' shows those there are, and 'rivetbook build add' adds one.",
    "build or subject": "'rivetbook build list' and 'rivetbook subject list' show those there are.",
    "reading": "'rivetbook size show SUBJECT LABEL' shows the readings of a size with their ids.",
    "photo": "'rivetbook photos' shows those there are.",
    "tally": "'rivetbook tally list' shows those there are.",
    "search": "'rivetbook searches' shows those that are kept.",
    "check": "'rivetbook instrument show NAME' shows the checks of an instrument with their ids.",
    "kind of instrument": "'rivetbook instrument kinds' shows those there are.",
    "subject, photo or visit": "'rivetbook history' shows what was done to all of them.",
}


class RecordNotFound(RivetbookError):
    """Nothing of this sort has that name or id."""

    def __init__(self, sort: str, asked: str, near: tuple[str, ...] = ()) -> None:
        super().__init__(sort, asked, near)
        self.sort, self.asked, self.near = sort, asked, near

    @property
    def without_commands(self) -> str:
        """What there is not, and what is near it."""
        missing = f"There is no {self.sort} called '{shown(self.asked)}', so nothing was changed."
        if self.near:
            return f"{missing} Perhaps you mean {' or '.join(repr(name) for name in self.near)}."
        return missing

    def __str__(self) -> str:
        sort, _, of = self.sort.partition(" of ")
        if self.near:
            return self.without_commands
        if sort == "size" and of:
            return f"{self.without_commands} 'rivetbook sizes \"{of}\"' shows those there are."
        return " ".join(filter(None, (self.without_commands, _WHERE_TO_LOOK.get(self.sort))))


class SeveralMatch(RivetbookError):
    """A name fits more than one record; nothing is guessed."""

    def __init__(self, sort: str, asked: str, matches: tuple[str, ...]) -> None:
        super().__init__(sort, asked, matches)
        self.sort, self.asked, self.matches = sort, asked, matches

    def __str__(self) -> str:
        listed = "; ".join(self.matches)
        return f"'{shown(self.asked)}' fits more than one {self.sort}, so nothing was changed. Name one of these: {listed}."


class NameTaken(RivetbookError):
    """A record of this sort with that name is already there."""

    def __init__(self, sort: str, name: str, holder: str) -> None:
        super().__init__(sort, name, holder)
        self.sort, self.name, self.holder = sort, name, holder

    def __str__(self) -> str:
        if " ".join(self.name.split()).casefold() == self.holder.casefold():
            taken = f"There is already {'an' if self.sort[0] in 'aeiou' else 'a'} {self.sort} called '{self.holder}'"
        else:
            taken = f"'{self.name}' is already a name of the {self.sort} '{self.holder}'"
        return f"{taken}; nothing was changed. Choose another name, or use the one that is there."


class NotAccepted(RivetbookError):
    """An entry that makes no sense; `why` names it, `instead` says what to do."""

    def __init__(self, why: str, instead: str) -> None:
        super().__init__(why, instead)
        self.why, self.instead = why, instead

    def __str__(self) -> str:
        return f"{self.why}; nothing was changed. {self.instead}"


class FileGone(RivetbookError):
    """An original is not where the records say."""

    def __init__(self, path: str) -> None:
        super().__init__(path)
        self.path = path

    def __str__(self) -> str:
        anew = (
            ", or bring it in anew: rivetbook import FILE --taken-out-too"
            if self.path.startswith("removed/")
            else ""
        )
        return (
            f"The file '{self.path}' is not there any more, so nothing was changed. "
            f"Put it back from a copy of the archive and try again{anew}."
        )


class FilesStillToMove(RivetbookError):
    """What was asked is recorded, but a file could not be moved yet."""

    def __init__(self, path: str, why: str) -> None:
        super().__init__(path, why)
        self.path, self.why = path, why

    def __str__(self) -> str:
        return (
            f"What you asked is recorded, but '{self.path}' could not be put in its place yet ({self.why}). The file is "
            "where it was, whole, and your next command tries again."
        )


class ActNotFound(RivetbookError):
    """The history holds no act of that number, or none that can be taken back."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why

    @property
    def without_commands(self) -> str:
        """Why not; the history is a page of its own."""
        return f"{self.why}. The history shows what was done."

    def __str__(self) -> str:
        return f"{self.why}. See what was done, with its numbers, by 'rivetbook history'."


_MOST_NAMED = 4


class LeanedOn(RivetbookError):
    """An act that later ones lean on cannot be taken back before them."""

    def __init__(self, act: int, sentence: str, later: tuple[tuple[int, str], ...]) -> None:
        super().__init__(act, sentence, later)
        self.act, self.sentence, self.later = act, sentence, later

    @property
    def without_commands(self) -> str:
        """What leans on it; each act of the history has a button beside it."""
        return self._beginning_with(f"act {self.later[0][0]}")

    def __str__(self) -> str:
        return self._beginning_with(f"'rivetbook undo {self.later[0][0]}'")

    def _beginning_with(self, first: str) -> str:
        named = "; ".join(f"{number} ({sentence})" for number, sentence in self.later[:_MOST_NAMED])
        others = len(self.later) - _MOST_NAMED
        listed = f"{named}; and {others} earlier" if others > 0 else named
        return (
            f"Act {self.act} ({self.sentence}) was not taken back, for later acts lean on it: {listed}. Nothing was "
            f"changed. Take those back first, beginning with {first}."
        )


class LinesNotSaved(RivetbookError):
    """Lines of a file of sizes that cannot be kept: `faults` name theirs; `bad` and `good` count them."""

    def __init__(self, name: str, faults: tuple[str, ...], bad: int, good: int) -> None:
        super().__init__(name, faults, bad, good)
        self.name, self.faults, self.bad, self.good = name, faults, bad, good

    def __str__(self) -> str:
        listed = "\n".join(f"  {fault}" for fault in self.faults)
        lines = "1 line" if self.bad == 1 else f"{self.bad} lines"
        rest = f", or keep the {self.good} good with --keep-good" if self.good else ""
        return (
            f"The sizes in {self.name} were not saved: {lines} could not be kept.\n{listed}\n"
            f"Correct and try again{rest}."
        )


class CouldNotWrite(RivetbookError):
    """The disk or the folder refused to take a file."""

    def __init__(self, path: str, why: str) -> None:
        super().__init__(path, why)
        self.path, self.why = path, why

    def __str__(self) -> str:
        return (
            f"'{self.path}' could not be written ({self.why}). What was there before is as it was. "
            "Make room, or choose another place, and try again."
        )


class SourceNotRead(RivetbookError):
    """A file that was to be imported could not be read to its end, or changed meanwhile."""

    def __init__(self, path: str, why: str) -> None:
        super().__init__(path, why)
        self.path, self.why = path, why

    def __str__(self) -> str:
        return f"'{self.path}' was not imported: {self.why}. Nothing of it was kept; import it again when it is whole."


class ImportCutShort(RivetbookError):
    """The disk or another writer stopped an import; what it had imported by then stays."""

    def __init__(self, why: str, imported: int, of: int) -> None:
        super().__init__(why, imported, of)
        self.why, self.imported, self.of = why, imported, of

    def __str__(self) -> str:
        return (
            f"{self.why} {self.imported} of {self.of} photos were imported before that and stay in the archive: "
            "run the same import again and it goes on from there."
        )


class FolderInTheWay(RivetbookError):
    """A folder that was to be written is there already; what people have is never overwritten."""

    def __init__(self, folder: str) -> None:
        super().__init__(folder)
        self.folder = folder

    def __str__(self) -> str:
        return (
            f"'{self.folder}' is already there and was left as it is, so nothing was written. "
            "Give a folder name that is not taken yet."
        )
