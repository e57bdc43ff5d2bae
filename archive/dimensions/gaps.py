"""Which sizes of a subject, or of all that a build is made after, are known well enough, too roughly, or not at all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf

from archive.dimensions.mending import Mend, Workshop
from archive.dimensions.overview import SizeLine, sizes_of_subject
from archive.dimensions.standards import (
    HAS_NONE,
    NOT_NEEDED,
    WANTED,
    Standard,
    allowed_for,
    half_width,
)
from archive.dimensions.verdicts import judge_touched
from archive.dimensions.worked_out import NO_LONGER_SOLVES
from archive.errors import NotAccepted, RecordNotFound, SeveralMatch
from archive.kinds import Thesaurus, thesaurus
from archive.lengths import parse_limit, parse_quantity, quantity_of
from archive.records import builds, kinds, photos, sizes, subjects, wants
from archive.records.archive import Archive
from archive.records.changes import Look
from archive.records.names import name_key, near_names
from archive.records.things import USUAL_TOLERANCE_MM, Build, Subject, WantedSize
from archive.scales import Scale, parse_scale
from archive.wording import is_wider

ENOUGH, ROUGH, STALE, MISSING = "enough", "too rough", "no longer solves", "missing"


@dataclass(frozen=True, slots=True)
class Gap:
    """One size and how it stands; half-widths are those of 95 % intervals, in the unit of the size.

    `rougher` is how many times too wide its doubt is; None where it is not known or not judged.
    """

    subject: str
    label: str
    quantity: str
    stands: str
    line: SizeLine | None
    half_width: float | None
    allowed: float | None
    precision: str | None  # as the person wrote it
    mend: Mend | None

    @property
    def rougher(self) -> float | None:
        """How many times wider its doubt is than what would do."""
        if self.half_width is None or self.allowed is None or not self.half_width:
            return None
        return self.half_width / self.allowed if self.allowed else inf


@dataclass(frozen=True, slots=True)
class Gaps:
    """All sizes of what was asked for, what matters most on the model first, and by what they were judged."""

    asked: str
    standard: Standard
    gaps: tuple[Gap, ...]

    def standing(self, stands: str) -> tuple[Gap, ...]:
        """Those that stand so."""
        return tuple(gap for gap in self.gaps if gap.stands == stands)

    @property
    def open(self) -> tuple[Gap, ...]:
        """Those with which something is left to do."""
        return tuple(gap for gap in self.gaps if gap.stands in (MISSING, STALE, ROUGH))


def gaps_of(archive: Archive, asked: str, *, at: Scale | None = None) -> Gaps:
    """Return how the sizes of a build or a subject stand.

    A build is judged at its scale and tolerance; a subject at `at`, else by the most exacting build that is made
    after it, else at 1 % of each size. Raises `RecordNotFound`, or `SeveralMatch` for a name of both.
    """
    with archive.look() as look:
        build, of = _meant(look, asked)
        standard = _standard(look, build, of, at)
        words = thesaurus(kinds.own_kinds(look))
        found = [gap for subject in of for gap in gaps_of_subject(look, subject, standard, words)]
    return Gaps(build.name if build else of[0].name, standard, tuple(sorted(found, key=_what_matters)))


def gaps_of_subject(look: Look, subject: Subject, standard: Standard, words: Thesaurus) -> list[Gap]:
    """How the sizes of one subject stand: those of its kind, those asked for, and those that were written down."""
    lines = sizes_of_subject(look, subject).lines
    decided = {name_key(want.label): want for want in wants.wants_of(look, subject.key)}
    workshop = Workshop(look, subject, lines, photos.photos_showing(look, subject))
    labels = [*(words.sizes(subject.kind) if subject.kind else ())]
    labels += [want.label for want in decided.values()] + [line.dimension.label for line in lines]
    by_key = {name_key(label): label for label in reversed(labels)}
    ordered = list(dict.fromkeys(name_key(label) for label in labels))
    by_label: dict[str, list[SizeLine]] = {}
    for line in lines:
        by_label.setdefault(name_key(line.dimension.label), []).append(line)
    return [
        _gap(subject, by_key[key], by_label.get(key, ()), decided.get(key), standard, workshop)
        for key in ordered
    ]


def decide(
    archive: Archive,
    asked: str,
    *,
    has_none: Sequence[str] = (),
    not_needed: Sequence[str] = (),
    wanted: Sequence[tuple[str, str]] = (),
    ask_again: Sequence[str] = (),
) -> list[str]:
    """Note what a person decides about sizes, all of it or nothing; returns a sentence for each.

    Parameters
    ----------
    has_none, not_needed, ask_again : sequence of str
        Labels: it has no such size, nobody needs it, what was decided before is taken back.
    wanted : sequence of (label, precision)
        Sizes to ask for, and how precisely will do: '± 4 mm', '1 %', '± 1°'.

    Raises
    ------
    LengthNotUnderstood, RecordNotFound, SeveralMatch, NotAccepted
        Nothing is saved then.
    """
    with archive.look() as look:
        build, of = _meant(look, asked)
    sentences = []
    with archive.change(f"Decided what sizes of {(build or of[0]).name} are wanted") as writer:
        for decision, labels in ((HAS_NONE, has_none), (NOT_NEEDED, not_needed)):
            for each in labels:
                subject, label = _subject_meant(writer, asked, each)
                wants.decide(writer, subject, label, decision)
                sentences.append(_SAID[decision].format(label=label, subject=subject.name))
                sentences += _perhaps_meant(writer, subject, label)
        for each, precision in wanted:
            subject, label = _subject_meant(writer, asked, each)
            constant, share = _precision(label, precision, _quantity_known(writer, subject, label))
            wants.decide(
                writer,
                subject,
                label,
                WANTED,
                precision_as_written=precision,
                precision_constant=constant,
                precision_share=share,
            )
            sentences.append(f"'{label}' of {subject.name} is wanted; {precision} will do.")
        for each in ask_again:
            subject, label = _subject_meant(writer, asked, each)
            if not wants.forget(writer, subject, label):
                raise NotAccepted(
                    f"Nothing was decided about '{label}' of {subject.name}",
                    "It is judged as any other size.",
                )
            sentences.append(f"'{label}' of {subject.name} is judged as any other size again.")
        judge_touched(writer)
    return sentences


def _perhaps_meant(look: Look, subject: Subject, label: str) -> list[str]:
    """A hint where a label that was left out is none that anybody asks for, and is much like one."""
    words = thesaurus(kinds.own_kinds(look))
    asked = [*(words.sizes(subject.kind) if subject.kind else ())]
    asked += [d.label for d in sizes.dimensions_of(look, subject)]
    if name_key(label) in {name_key(each) for each in asked}:
        return []
    near = near_names(label, asked)
    return (
        [f"Nobody asks for '{label}'. Perhaps you mean {' or '.join(repr(n) for n in near)}."] if near else []
    )


_SAID = {
    HAS_NONE: "{subject} has no '{label}'; it is not asked for again, until you say --ask-again.",
    NOT_NEEDED: "'{label}' of {subject} is not needed, until you say --ask-again.",
}


def _quantity_known(look: Look, subject: Subject, label: str) -> str | None:
    """What a size that was written down measures, whatever its label says: a length, a count, an angle, a slope."""
    key = name_key(label)
    return next((d.quantity for d in sizes.dimensions_of(look, subject) if name_key(d.label) == key), None)


def _precision(label: str, text: str, known: str | None) -> tuple[float, float]:
    if quantity_of(label, text, known) == "length":
        limit = parse_limit(text)
        return limit.constant_mm, limit.per_mm
    return parse_quantity(label, text.replace("±", "").strip(), known).value, 0.0


def _meant(look: Look, asked: str) -> tuple[Build | None, Sequence[Subject]]:
    build = next(
        (b for b in builds.all_builds(look) if asked == b.id or name_key(asked) == name_key(b.name)), None
    )
    subject = subjects.find_subject(look, asked)
    if build and subject:
        raise SeveralMatch("thing", asked, (f"{build.id} (the build)", f"{subject.id} (the subject)"))
    if build:
        return build, build.subjects
    if subject is None:
        try:
            subject = subjects.subject_named(look, asked)
        except RecordNotFound as unknown:
            raise RecordNotFound("build or subject", asked, unknown.near) from None
    return None, (subject,)


def _subject_meant(look: Look, asked: str, label: str) -> tuple[Subject, str]:
    """The subject whose size is meant: of a build of several, the one written before the label and a colon."""
    if not label.strip():
        raise NotAccepted("A size needs a label", "Say which, such as 'door height'.")
    build, of = _meant(look, asked)
    if build is None or len(of) == 1:
        return of[0], label.strip()
    name, colon, rest = label.partition(": ")
    found = [s for s in of if colon and name_key(s.name) == name_key(name)]
    if not found or not rest.strip():
        names = ", ".join(s.name for s in of)
        raise NotAccepted(
            f"The build is made after {names}, and it was not said whose size '{label}' is",
            f"Write it like '{of[0].name}: {rest.strip() or label}'.",
        )
    return found[0], rest.strip()


def _standard(look: Look, build: Build | None, of: Sequence[Subject], at: Scale | None) -> Standard:
    if build is not None:
        return Standard(
            at or parse_scale(build.scale_as_written), build.tolerance_mm or USUAL_TOLERANCE_MM, build.name
        )
    if at is not None:
        return Standard(at)
    held = [b for b in builds.all_builds(look) if any(s.key == of[0].key for s in b.subjects)]
    found = [
        Standard(parse_scale(b.scale_as_written), b.tolerance_mm or USUAL_TOLERANCE_MM, b.name) for b in held
    ]
    return min(found, key=lambda standard: standard.allowed("length", 0.0), default=Standard())


def _gap(
    subject: Subject,
    label: str,
    lines: Sequence[SizeLine],
    decided: WantedSize | None,
    standard: Standard,
    workshop: Workshop,
) -> Gap:
    known = [line for line in lines if line.estimate is not None]
    best = min(known, key=_half_width, default=None)
    quantity = best.dimension.quantity if best else quantity_of(label).value
    precision = decided.precision_as_written if decided else None
    if decided is not None and decided.decision in (HAS_NONE, NOT_NEEDED):
        return Gap(subject.name, label, quantity, decided.decision, best, None, None, precision, None)
    if best is None or best.estimate is None:
        missing = workshop.for_missing(quantity, lines[0].dimension if lines else None)
        return Gap(subject.name, label, quantity, MISSING, None, None, None, precision, missing)
    allowed = allowed_for(decided, standard, best.estimate)
    half = half_width(best.estimate)
    stale = next((w for w in best.estimate.warnings if w.code == NO_LONGER_SOLVES), None)
    if stale is not None:
        stands, mend_it = STALE, Mend("recipe", stale.message)
    elif is_wider(half, allowed) or best.estimate.agree is False:
        stands, mend_it = ROUGH, workshop.best_for(best, allowed)
    else:
        stands, mend_it = ENOUGH, None
    return Gap(subject.name, label, quantity, stands, best, half, allowed, precision, mend_it)


def _half_width(line: SizeLine) -> float:
    assert line.estimate is not None
    return half_width(line.estimate)


_ORDER: Mapping[str, int] = {MISSING: 0, STALE: 1, ROUGH: 2, ENOUGH: 3, NOT_NEEDED: 4, HAS_NONE: 5}


def _what_matters(gap: Gap) -> tuple[int, float]:
    """What is missing may be off by all of itself; then what is the most times too rough. Else as listed."""
    return _ORDER[gap.stands], -(gap.rougher or 0.0) if gap.stands == ROUGH else 0.0
