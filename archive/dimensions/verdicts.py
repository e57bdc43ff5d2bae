"""Whether the sizes of a subject would do, kept beside it in the transaction that changed them."""

from __future__ import annotations

from collections.abc import Sequence

from archive.dimensions.standards import HAS_NONE, NOT_NEEDED, Standard, allowed_for, half_width
from archive.dimensions.worked_out import NO_LONGER_SOLVES
from archive.kinds import Thesaurus, thesaurus
from archive.records import kinds, sizes, subjects, verdicts, wants
from archive.records.changes import Look, Writer
from archive.records.names import name_key
from archive.records.things import Estimate, Verdict
from archive.wording import is_wider


def judge_touched(writer: Writer) -> None:
    """Judge the subjects anew whose sizes, or what is asked of them, this transaction has changed."""
    touched = subjects.kinds_by_key(writer, verdicts.subjects_touched(writer))
    if touched:
        words = thesaurus(kinds.own_kinds(writer))
        judged = {key: verdict_of(writer, key, kind, words) for key, kind in touched.items()}
        verdicts.keep_verdicts(writer, judged)


def verdict_of(look: Look, subject_key: int, kind: str | None, words: Thesaurus) -> Verdict | None:
    """Judge the sizes of a subject at no scale yet; None where nobody has noted or decided anything."""
    decided = {name_key(want.label): want for want in wants.wants_of(look, subject_key)}
    noted = sizes.estimates_by_label(look, subject_key)
    if not noted and not decided:
        return None
    known = {label_key: estimates for label_key, estimates in noted.items() if estimates}
    asked = {name_key(label) for label in (words.sizes(kind) if kind else ())}
    asked |= set(known) | set(decided)
    asked -= {key for key, want in decided.items() if want.decision in (HAS_NONE, NOT_NEEDED)}
    missing, unfit, roughest = 0, 0, 0.0
    for key in asked:
        if key not in known:
            missing += 1
            continue
        best = _best(known[key])
        want = decided.get(key)
        by_scale = best.quantity == "length" and (want is None or want.precision_constant is None)
        if best.agree is False or any(w.code == NO_LONGER_SOLVES for w in best.warnings):
            unfit += 1
        elif by_scale:
            roughest = max(roughest, half_width(best))
        elif is_wider(half_width(best), allowed_for(want, Standard(), best)):
            unfit += 1
    return Verdict(missing, unfit, roughest)


def _best(estimates: Sequence[Estimate]) -> Estimate:
    return min(estimates, key=half_width)
