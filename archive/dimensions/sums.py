"""Sizes worked out from sizes: '5 x door board', 'overall - 2 x post', 'rise / run'; correlation kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from archive.dimensions.named_sizes import measures, sizes_in
from archive.dimensions.readings import SPANS, Recorded, identity_of
from archive.errors import CannotEstimate, NotAccepted
from archive.lengths import quantity_of
from archive.metrology.coverage import interval_95
from archive.metrology.notation import Expression, SizeName, parse_expression
from archive.metrology.sources import Doubtful
from archive.metrology.spacing import counted_length
from archive.metrology.tallies import dimension_of, work_out
from archive.records import recipes, sizes, subjects
from archive.records.archive import Archive
from archive.records.changes import Look, Writer
from archive.records.ledgers import estimate_ledgers, keep_ledgers
from archive.records.names import clean_name, name_key, new_public_id
from archive.records.things import Derivation, Dimension, Reading, Subject

METHOD, WORKED_OUT = "sum", "worked out"
_UNITS = {"length": "mm", "count": "1", "angle": "deg", "slope": "rise/run"}


@dataclass(frozen=True, slots=True)
class Counted:
    """So many even spacings, of which so many were measured together; u of a single one's departure, mm."""

    count: int
    over: int
    u_each_mm: float = 0.0


def work_out_size(
    archive: Archive, subject: str, label: str, text: str, *, span: str = "plain", state: str = "as found"
) -> Recorded:
    """Have a size worked out from others; it follows when they change.

    Parameters
    ----------
    text : str
        Terms as in a tally, '5 x door board', and also label x count and label / label.

    Raises
    ------
    NotationNotUnderstood
        With the place: a size that is not there, lengths added to numbers.
    CannotEstimate
        One of the sizes has no figure, or it divides by 0.
    SizesInACircle
        It would be worked out from itself.
    NotAccepted, RecordNotFound
        Nothing is saved then.
    """
    parse_expression(text)  # before anything is begun
    with archive.change() as writer:
        whose = subjects.subject_named(writer, subject)
        writer.sentence = f"Had '{clean_name(label)}' of {whose.name} worked out as {text}"
        return have_worked_out(writer, whose, label, text, span=span, state=state)


def have_worked_out(
    writer: Writer,
    subject: Subject,
    label: str,
    text: str,
    *,
    span: str = "plain",
    state: str = "as found",
    counted: Counted | None = None,
) -> Recorded:
    """As `work_out_size`, within a transaction; `counted` where the sum is that of counted spacings."""
    written = parse_expression(text)
    named = sizes_in(writer, subject, written)
    comes_to = dimension_of(written, lambda name: measures(named[name]))
    dimension = _dimension(writer, subject, label, state, span, comes_to)
    _refuse_twice(writer, dimension, text)
    reading = _keep(writer, dimension, text, named, counted)
    from archive.dimensions.solving import solve_again  # which works out what this module says

    derivation = recipes.derivation_named(writer, reading.derived_by or "")
    solve(writer, derivation)  # refuses at once what does not work
    solve_again(writer, [derivation.key])
    (reading,) = sizes.readings_by_key(writer, [reading.key]).values()
    return Recorded(reading, dimension, sizes.estimates_of(writer, [dimension])[dimension.key], ())


def solve(look: Look, derivation: Derivation) -> Doubtful:
    """Work out a sum from the best figures of its sizes as they are now.

    Raises `CannotEstimate` where one has no figure or was taken out.
    """
    written = parse_expression(derivation.recipe["sum"])
    figures = _figures(look, derivation, written)
    if "counted" not in derivation.recipe:
        return work_out(written, figures.__getitem__)
    counted = Counted(**derivation.recipe["counted"])
    (measured,) = figures.values()
    return counted_length(
        Doubtful(counted.count, {}),
        counted.over,
        measured,
        of_record=derivation.id,
        u_each_mm=counted.u_each_mm,
        measured_among_counted=counted.over <= counted.count,
    )


def solve_and_store(writer: Writer, derivation: Derivation, readings: Mapping[str, Reading]) -> None:
    """Work a sum out again; where it no longer can be, its reading stays as it was and says so."""
    try:
        store(writer, derivation, readings, solve(writer, derivation))
    except CannotEstimate as refused:
        kept = [{**result, "why": refused.sentence} for result in derivation.results]
        recipes.keep_results(writer, derivation, kept, why=refused.sentence)


def store(writer: Writer, derivation: Derivation, readings: Mapping[str, Reading], known: Doubtful) -> None:
    """Keep what a sum came to."""
    (asked,) = derivation.recipe["asked"]
    reading = readings.get(asked["reading"])
    if reading is not None:
        recipes.keep_derived_value(
            writer, reading.key, known.value, reading.as_written, is_length=reading.quantity == "length"
        )
        keep_ledgers(writer, readings={reading.key: known})
    result: dict[str, Any] = {
        "reading": asked["reading"],
        "value": known.value,
        "standard_uncertainty": known.standard_uncertainty,
        "interval_95": list(interval_95(known)),
        "method": METHOD,
        "warnings": [],
        "why": None,
    }
    recipes.keep_results(writer, derivation, [result], why=None)


def _figures(look: Look, derivation: Derivation, written: Expression) -> dict[SizeName, Doubtful]:
    held = {d.key: d for d in sizes.dimensions_by_key(look, [k for k in derivation.input_keys.values() if k])}
    estimates = sizes.estimates_of(look, list(held.values()))
    ledgers = estimate_ledgers(look, [e.key for e in estimates.values()])
    found = {}
    for number, name in enumerate(written.names):
        key = derivation.input_keys.get(number)
        if key is None or key not in held:
            raise CannotEstimate(
                "no-known-size", f"'{name.label}', which it is worked out from, was taken out."
            )
        if key not in estimates:
            size = held[key]
            raise CannotEstimate(
                "no-known-size",
                f"'{size.label}' of {size.subject}, which it is worked out from, has no figure; measure it.",
            )
        found[name] = ledgers[estimates[key].key]
    return found


def _dimension(
    writer: Writer, subject: Subject, label: str, state: str, span: str, comes_to: str
) -> Dimension:
    label = clean_name(label)
    if not label:
        raise NotAccepted("A size needs a label", "Say what is worked out, such as 'door width'.")
    if span not in SPANS:
        raise NotAccepted(f"A size is not taken '{span}'", f"Say one of: {', '.join(SPANS)}.")
    held = {identity_of(d): d for d in sizes.dimensions_of(writer, subject)}
    found = held.get((name_key(label), name_key(state), span))
    quantity = found.quantity if found else quantity_of(label).value
    if comes_to != {"length": "length", "angle": "angle"}.get(quantity, "number"):
        raise NotAccepted(
            f"The sum comes to {'an' if comes_to == 'angle' else 'a'} {comes_to}, and '{label}' is "
            f"{'an' if quantity == 'angle' else 'a'} {quantity}",
            "End the label in count, angle or slope where it is one.",
        )
    return found or sizes.add_dimensions(writer, subject, [(label, state, span, quantity)])[0]


def _refuse_twice(look: Look, dimension: Dimension, text: str) -> None:
    for reading in sizes.readings_of(look, [dimension]).get(dimension.key, ()):
        if reading.derived_by and reading.stands and name_key(reading.as_written) == name_key(text):
            raise NotAccepted(
                f"'{dimension.label}' is worked out as '{text}' already", "It follows by itself."
            )


def _keep(
    writer: Writer,
    dimension: Dimension,
    text: str,
    named: Mapping[SizeName, Dimension],
    counted: Counted | None,
) -> Reading:
    """The recipe and its reading, whose figure is worked out after."""
    reading_id = new_public_id("reading")
    derivation = recipes.add_derivation(
        writer,
        new_public_id("derivation"),
        None,
        METHOD,
        {
            "sum": text,
            "asked": [{"reading": reading_id}],
            **({"counted": asdict(counted)} if counted else {}),
        },
        input_keys={number: d.key for number, d in enumerate(named.values())},
        marks=[],
    )
    row = {
        "public_id": reading_id,
        "dimension_id": dimension.key,
        "as_written": text,
        "quantity": dimension.quantity,
        "value": 0.0,
        "unit": _UNITS[dimension.quantity],
        "approximate": False,
        "grade": WORKED_OUT,
        "derived_by": derivation.id,
    }
    (key,) = sizes.add_readings(writer, [row])
    return sizes.readings_by_key(writer, [key])[key]
