"""Readings are append-only: a correction is a new reading, and the old one is known to be replaced."""

from __future__ import annotations

from pathlib import Path

from wendle_basin import fill, new_archive

from archive.records import sizes, subjects
from archive.records.ledgers import estimate_ledgers


def test_a_reading_that_was_corrected_is_kept_and_known_to_be_replaced(tmp_path: Path) -> None:
    with new_archive(tmp_path / "wharf") as archive:
        fill(archive)
        with archive.look() as look:
            (jib,) = sizes.dimensions_of(look, subjects.subject_named(look, "hand crane"))
            first, second = sizes.readings_of(look, [jib])[jib.key]

    assert (first.as_written, first.replaced, first.replaces) == ("18ft 5in", True, None)
    assert (second.as_written, second.replaced, second.replaces) == ("18ft 6in", False, first.id)


def test_a_best_figure_keeps_what_it_leans_on(tmp_path: Path) -> None:
    with new_archive(tmp_path / "wharf") as archive:
        fill(archive)
        with archive.look() as look:
            dimensions = sizes.dimensions_of(look, subjects.subject_named(look, "wharf crane"))
            estimate = sizes.estimates_of(look, dimensions)[dimensions[0].key]
            leans_on = estimate_ledgers(look, [estimate.key])[estimate.key]

    assert {source.kind: s for source, s in leans_on.sensitivities.items()} == {
        "offset": 1.2,
        "rounding": 7.332,
    }
    assert estimate.standard_uncertainty == (1.2**2 + 7.332**2) ** 0.5
