"""Tallies as use cases: written down, listed with how they came out, taken out."""

from __future__ import annotations

from dataclasses import dataclass

from archive import wording
from archive.dimensions.adjusting import read_once_more
from archive.dimensions.estimates import recompute
from archive.dimensions.named_sizes import measures, sizes_in
from archive.errors import CannotEstimate, NotAccepted
from archive.metrology.coverage import NORMAL_95
from archive.metrology.notation import parse_tally
from archive.metrology.tallies import dimension_of
from archive.records import sizes, subjects, tallies
from archive.records.archive import Archive
from archive.records.changes import Look
from archive.records.names import name_key
from archive.records.things import Dimension, Subject, Tally


@dataclass(frozen=True, slots=True)
class TallyLine:
    """A tally, its sizes, and those of them that may be wrong; `tally.outcome` tells how it came out."""

    tally: Tally
    sizes: tuple[Dimension, ...]
    suspects: tuple[Dimension, ...]

    @property
    def comes_out(self) -> str:
        """How it comes out, for people."""
        outcome = self.tally.outcome
        if outcome.get("why") or "left_over" not in outcome:
            return f"It is not used: {outcome.get('why') or 'its sizes have no figures'}."
        quantity = outcome["quantity"]
        left = wording.two_figures(quantity, abs(outcome["left_over"]))
        allowed = wording.two_figures(quantity, NORMAL_95 * outcome["standard_uncertainty"])
        told = f"{left} left over, and its sizes' doubts allow {allowed}"
        if outcome["comes_out"]:
            return f"It comes out: {told}."
        labels = [d.label for d in self.suspects or self.sizes]
        if self.suspects and len(labels) == 1 < len(self.sizes):
            return f"It does not come out: {told}. By the other tallies '{labels[0]}' is wrong; read it once more."
        return f"It does not come out: {told}. {read_once_more(labels)}"


def add_tally(archive: Archive, subject: str, text: str) -> TallyLine:
    """Write down a sum that must come out; the sizes in it, and all that it ties them to, are adjusted together.

    Raises
    ------
    NotationNotUnderstood
        With the place: no sum, a size that is not there, lengths added to numbers.
    CannotEstimate
        It follows from the tallies that are there, or contradicts them; nothing is saved then.
    SizesInACircle
        One of its sizes is worked out from another of them.
    """
    written = parse_tally(text)
    with archive.change() as writer:
        whose = subjects.subject_named(writer, subject)
        writer.sentence = f"Wrote down the tally '{text}' of {whose.name}"
        named = sizes_in(writer, whose, written)
        dimension_of(written, lambda name: measures(named[name]))
        if len({d.key for d in named.values()}) < len(named):
            raise NotAccepted(
                "The tally names one size in two ways", "Write it once, with the number before it."
            )
        _refuse_twice(writer, whose, text)
        added = tallies.add_tally(writer, whose, text, [d.key for d in named.values()])
        recompute(writer, named.values())
        line = _line(writer, tallies.tally_named(writer, added.id))
        why = line.tally.outcome.get("why")
        if why and all(d.key in sizes.estimates_of(writer, line.sizes) for d in line.sizes):
            raise CannotEstimate("constraints", f"{why} The tally '{text}' was not saved.")
    return line


def tallies_of(archive: Archive, subject: str | None = None) -> list[TallyLine]:
    """Return the tallies, all or those of a subject, with how they came out."""
    with archive.look() as look:
        of = subjects.subject_named(look, subject) if subject else None
        return [_line(look, tally) for tally in tallies.all_tallies(look, of=of)]


def remove_tally(archive: Archive, tally: str) -> Tally:
    """Take out the tally of this id or writing; its sizes are as their readings say again."""
    with archive.look() as look:
        found = tallies.tally_named(look, tally)
    with archive.change(f"Took out the tally '{found.as_written}' of {found.subject}") as writer:
        tied, _ = tallies.tied_together(writer, [key for key in found.dimension_keys if key is not None])
        tallies.remove_tally(writer, found)
        recompute(writer, sizes.dimensions_by_key(writer, tied))
    return found


def _refuse_twice(look: Look, subject: Subject, text: str) -> None:
    for held in tallies.all_tallies(look, of=subject):
        if name_key(held.as_written) == name_key(text):
            raise NotAccepted(
                f"The tally '{held.as_written}' of {subject.name} is written down already",
                "'rivetbook tally list' shows how it comes out.",
            )


def _line(look: Look, tally: Tally) -> TallyLine:
    held = {
        d.key: d for d in sizes.dimensions_by_key(look, [k for k in tally.dimension_keys if k is not None])
    }
    ordered = tuple(held[key] for key in tally.dimension_keys if key in held)
    odd = set(tally.outcome.get("suspects", ()))
    return TallyLine(tally, ordered, tuple(d for d in ordered if d.id in odd))
