"""Checks of instruments: what they say of it, which readings they correct, and that they can be taken back."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from math import sqrt
from pathlib import Path

import pytest
from wendle_basin import new_archive
from wharf_of_files import records_in

from archive.dimensions.check_plot import svg_of, write_plot
from archive.dimensions.checking import check_instrument, instrument_sheet
from archive.dimensions.overview import sizes_of
from archive.dimensions.readings import record_reading
from archive.dimensions.undoing import undo
from archive.errors import LengthNotUnderstood, NotAccepted, RecordNotFound
from archive.records.archive import Archive
from archive.records.entering import enter_instrument, enter_subject, enter_visit
from archive.records.things import Estimate
from archive.scales import parse_scale


@pytest.fixture
def hut(tmp_path: Path) -> Archive:
    with new_archive(tmp_path / "wharf") as archive:
        enter_subject(archive, "Weighbridge hut")
        enter_visit(archive, "Wendle Basin, June", days="2023-06-17", zone="Europe/London")
        enter_instrument(archive, "rod", resolution="1mm")
        enter_instrument(archive, "old tape")
        enter_instrument(archive, "phone", limit="20 mm", resolution="10mm", steady=False)
        yield archive


def best(archive: Archive, label: str) -> Estimate:
    found = next(
        line for line in sizes_of(archive, "Weighbridge hut").lines if line.dimension.label == label
    ).estimate
    assert found is not None
    return found


def sentences(archive: Archive, name: str, at: str | None = None) -> list[str]:
    sheet = instrument_sheet(archive, name, at=parse_scale(at) if at else None)
    return [judged.sentence for judged in sheet.verdict]


def test_a_check_of_a_steady_instrument_corrects_what_it_had_read_before(hut: Archive) -> None:
    record_reading(hut, "Weighbridge hut", "width", "1000 mm", instrument="rod")
    noted = check_instrument(hut, "rod", reference="2743mm ± 1mm", reading="2750 mm")

    # By hand: 7 mm long; the ± 1 mm of the reference, and the step of the check and that of the reading.
    assert best(hut, "width").value == pytest.approx(993)
    assert best(hut, "width").standard_uncertainty == pytest.approx(sqrt(1 / 3 + 1 / 12 + 1 / 12))
    assert [d.label for d in noted.sizes] == ["width"]


def test_two_sizes_corrected_by_one_check_share_its_doubt(hut: Archive) -> None:
    check_instrument(hut, "rod", reference="2743mm ± 1mm", reading="2750 mm")
    for label in ("width", "length"):
        record_reading(hut, "Weighbridge hut", label, "1000 mm", instrument="rod")
    ledgers = [line.ledger for line in sizes_of(hut, "Weighbridge hut").lines]
    assert ledgers[0] is not None
    assert ledgers[1] is not None

    shared = set(ledgers[0].sensitivities) & set(ledgers[1].sensitivities)
    assert sum(ledgers[0].sensitivities[s] * ledgers[1].sensitivities[s] for s in shared) == pytest.approx(
        1 / 3 + 1 / 12
    )


def test_the_verdict_is_plain_and_says_what_it_is_at_a_scale(hut: Archive) -> None:
    check_instrument(hut, "old tape", reference="2743mm ± 1mm", reading="2.75 m")

    # By hand: u = sqrt(1/3 + 100/12) = 2.94 mm, nearly all of one rectangle, so 1.7 u is 5 mm; 7/43.5 = 0.16.
    assert sentences(hut, "old tape", "1:43.5") == [
        "It reads 7 mm long ± 5 mm near 2.7 m; at 1:43.5 that is 0.16 mm."
    ]


def test_an_error_within_its_doubt_is_not_called_long_or_short(hut: Archive) -> None:
    check_instrument(hut, "old tape", reference="2743mm ± 1mm", reading="2.74 m")

    assert sentences(hut, "old tape") == ["It reads right near 2.7 m, as far as that can be told: to ± 5 mm."]


def test_a_check_of_a_changing_instrument_serves_its_own_day_only(hut: Archive) -> None:
    for day in ("2023-06-17", "2024-09-08"):
        record_reading(hut, "Weighbridge hut", f"width on {day}", "1.00 m", instrument="phone", on=day)
    check_instrument(hut, "phone", reference="2000 mm", reading="2.03 m", on="2023-06-17")

    assert best(hut, "width on 2023-06-17").value == pytest.approx(970)
    other = best(hut, "width on 2024-09-08")
    assert other.value == pytest.approx(1000)
    # By hand: the limit, u = 20/sqrt 3, weighs as eight days; the checked day was 30 mm off: 9 days together.
    spread = (20 / sqrt(3)) * sqrt((8 + (30 / (20 / sqrt(3))) ** 2) / 9)
    assert other.standard_uncertainty == pytest.approx(sqrt(spread**2 + 100 / 12))
    said = sentences(hut, "phone")
    assert said[0].startswith("On 2023-06-17 it reads 30 mm long")
    assert "a check corrects the readings of its own day only" in said[1]


def test_a_changing_instrument_is_checked_on_a_day_and_a_visit_of_one_day_says_it(hut: Archive) -> None:
    with pytest.raises(NotAccepted, match="Say the day with --on"):
        check_instrument(hut, "phone", reference="2000 mm", reading="2.03 m")
    noted = check_instrument(hut, "phone", reference="2 m", reading="2.03 m", visit="Wendle Basin, June")

    assert noted.check.taken_on == "2023-06-17"


def test_a_check_that_is_taken_back_leaves_every_row_as_it_was(hut: Archive) -> None:
    record_reading(hut, "Weighbridge hut", "width", "1000 mm", instrument="rod")
    before = records_in(hut.folder)
    hut.begin_act()
    check_instrument(hut, "rod", reference="2743mm ± 1mm", reading="2750 mm")
    assert records_in(hut.folder) != before
    undo(hut)

    assert records_in(hut.folder) == before


def test_what_is_known_at_one_length_only_is_said(hut: Archive) -> None:
    check_instrument(hut, "rod", reference="2743mm ± 1mm", reading="2750 mm")
    assert [w.code for w in instrument_sheet(hut, "rod").warnings] == ["one-length-checked"]
    record_reading(hut, "Weighbridge hut", "step", "190 mm", instrument="rod")
    assert [w.code for w in best(hut, "step").warnings] == ["beyond-checks"]

    check_instrument(hut, "rod", reference="1000mm ± 1mm", reading="1003 mm")
    assert instrument_sheet(hut, "rod").warnings == ()
    assert best(hut, "step").warnings == ()


def test_of_checks_that_disagree_the_one_is_named_without_which_the_others_agree(hut: Archive) -> None:
    for reference, reading in ((1000, 1003), (5000, 5003), (3000, 3003), (4000, 4030)):
        noted = check_instrument(hut, "rod", reference=f"{reference} mm ± 1 mm", reading=f"{reading} mm")
    (told,) = instrument_sheet(hut, "rod").warnings

    assert told.code == "checks-disagree"
    assert "without '4030 mm' of 4000 mm ± 1 mm the others agree" in told.message
    assert f"rivetbook instrument remove-check {noted.check.id}." in told.message

    # Two that are as far off: nothing tells which.
    check_instrument(hut, "rod", reference="2000 mm ± 1 mm", reading="1976 mm")
    (told,) = instrument_sheet(hut, "rod").warnings
    assert "one may be misread, or it does not read alike each time" in told.message


def test_nothing_is_kept_of_a_check_that_makes_no_sense(hut: Archive) -> None:
    before = records_in(hut.folder)
    with pytest.raises(LengthNotUnderstood):
        check_instrument(hut, "rod", reference="2743 im", reading="2750 mm")
    with pytest.raises(NotAccepted, match="is no length to check by"):
        check_instrument(hut, "rod", reference="0 mm", reading="2750 mm")
    with pytest.raises(RecordNotFound):
        check_instrument(hut, "rode", reference="2743 mm", reading="2750 mm")

    assert records_in(hut.folder) == before


@pytest.mark.parametrize("checks", [0, 1, 3])
def test_the_plot_shows_every_check_and_says_so_in_words(hut: Archive, checks: int, tmp_path: Path) -> None:
    for n in range(checks):
        check_instrument(hut, "rod", reference=f"{n + 1} m", reading=f"{1000 * n + 1003} mm")
    sheet = instrument_sheet(hut, "rod")
    drawing = ET.fromstring(svg_of(sheet))
    svg = "{http://www.w3.org/2000/svg}"

    circles = drawing.findall(f"{svg}circle")
    assert [c.findtext(f"{svg}title") for c in circles] == [
        f"{1000 * n + 1003} mm read of {n + 1} m" for n in range(checks)
    ]
    # Longer to the right, and all within the sheet.
    places = [(float(c.attrib["cx"]), float(c.attrib["cy"])) for c in circles]
    assert places == sorted(places)
    assert all(0 < x < 560 and 0 < y < 320 for x, y in places)
    write_plot(sheet, tmp_path / "rod.svg")
    with pytest.raises(NotAccepted, match="there already"):
        write_plot(sheet, tmp_path / "rod.svg")
