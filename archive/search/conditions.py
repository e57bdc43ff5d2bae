"""What must hold of a thing to be found, beside its words: as keys of the subjects and photos that may be shown."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from archive.kinds import Thesaurus
from archive.lengths import SizeRange
from archive.records import finding as records
from archive.records.changes import Look
from archive.records.entering import check_view
from archive.records.visits import visit_named
from archive.search.by_size import Likely, sizes_asked_for, together
from archive.search.kind_words import kinds_meant, with_narrower


@dataclass(frozen=True, slots=True)
class Asking:
    """Conditions as somebody gives them; None and empty: any."""

    kind: str | None = None
    view: str | None = None
    visit: str | None = None
    sizes: tuple[SizeRange, ...] = ()


@dataclass(slots=True)
class Conditions:
    """Which subjects and which photos that show none may be in the answer; None: any."""

    subjects: set[int] | None = None
    photos: set[int] | None = None
    view: str | None = None
    visit_key: int | None = None
    sizes: Mapping[int, tuple[Likely, ...]] = field(default_factory=dict)
    messages: list[str] = field(default_factory=list)

    def keep_subjects(self, keys: Collection[int]) -> None:
        """Leave out every subject that is not among these."""
        self.subjects = set(keys) if self.subjects is None else self.subjects & set(keys)

    def keep_photos(self, keys: Collection[int]) -> None:
        """Leave out every loose photo that is not among these."""
        self.photos = set(keys) if self.photos is None else self.photos & set(keys)

    def probability(self, subject: int) -> float:
        """Return how probable it is that a subject has all the sizes asked for."""
        return together(size.probability for size in self.sizes.get(subject, ()))

    @property
    def none_given(self) -> bool:
        """Tell whether anything may be in the answer."""
        return self.subjects is None and self.photos is None


def conditions_of(look: Look, kinds: Thesaurus, asking: Asking, stamp: object) -> Conditions:
    """Return what may be in the answer; `stamp` is that of the newest change.

    Raises `UnknownKind`, `RecordNotFound` or `NotAccepted` for a condition that cannot be read.
    """
    keep = Conditions()
    if asking.kind:
        meant = kinds_meant(kinds, asking.kind)
        if len(meant) > 1:
            names = ", ".join(kind.name for kind in meant)
            keep.messages.append(f"'{asking.kind}' is the word for several kinds: {names}.")
        keep.keep_subjects(records.subjects_of_kinds(look, with_narrower(kinds, meant)))
        keep.keep_photos(())
    if asking.view:
        keep.view = check_view(asking.view)
        keep.keep_photos(())
    if asking.visit:
        keep.visit_key = visit_named(look, asking.visit).key
        keep.keep_photos(records.loose_photos(look, visit_key=keep.visit_key))
    if asking.view or asking.visit:
        keep.keep_subjects(records.subjects_shown(look, view=keep.view, visit_key=keep.visit_key))
    if asking.sizes:
        keep.sizes = sizes_asked_for(look, asking.sizes, stamp, keep.subjects)
        keep.keep_subjects(keep.sizes)
        keep.keep_photos(())
    return keep
