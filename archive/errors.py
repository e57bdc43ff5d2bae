"""The one exception tree: every message says what happened, to what, what was kept, what to do next.

The doors turn a `RivetbookError` into its sentence and its `exit_status`; anything else is a bug.
Every class hands all its fields to `Exception.__init__`, so that it pickles.
"""

from __future__ import annotations


class RivetbookError(Exception):
    """Something that the person can understand and put right."""

    exit_status = 1


class LengthNotUnderstood(RivetbookError, ValueError):
    """A length was written in a way that has no single meaning."""

    def __init__(self, as_written: str, why: str, instead: str) -> None:
        super().__init__(as_written, why, instead)
        self.as_written, self.why, self.instead = as_written, why, instead

    def __str__(self) -> str:
        return f"'{self.as_written}' was not understood as a length: {self.why}. {self.instead}"


class ScaleNotUnderstood(RivetbookError, ValueError):
    """A scale was written in a way that has no single meaning."""

    def __init__(self, as_written: str, why: str, instead: str) -> None:
        super().__init__(as_written, why, instead)
        self.as_written, self.why, self.instead = as_written, why, instead

    def __str__(self) -> str:
        return f"'{self.as_written}' was not understood as a scale: {self.why}. {self.instead}"


class UnknownKind(RivetbookError):
    """A kind of thing that neither the thesaurus nor the person's own list holds."""

    def __init__(self, asked: str, near: tuple[str, ...] = ()) -> None:
        super().__init__(asked, near)
        self.asked, self.near = asked, near

    def __str__(self) -> str:
        hint = f" Perhaps: {', '.join(self.near)}." if self.near else ""
        return f"There is no kind called '{self.asked}', so nothing was changed.{hint}"


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


class PictureNotReadable(RivetbookError):
    """A file that no picture can be had from, or not safely."""

    def __init__(self, name: str, why: str) -> None:
        super().__init__(name, why)
        self.name, self.why = name, why

    def __str__(self) -> str:
        return f"{self.name}: {self.why}"
