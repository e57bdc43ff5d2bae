"""Where the doubt of a size comes from, told by share."""

from __future__ import annotations

from pathlib import Path

import pytest
from wendle_basin import new_archive

from archive.dimensions.checking import check_instrument
from archive.dimensions.overview import SizeLine, size_labelled
from archive.dimensions.readings import record_reading
from archive.errors import RecordNotFound
from archive.records.archive import Archive
from archive.records.entering import enter_instrument, enter_subject


@pytest.fixture
def hut(tmp_path: Path) -> Archive:
    with new_archive(tmp_path / "wharf") as archive:
        enter_subject(archive, "Weighbridge hut")
        enter_instrument(archive, "long tape", resolution="2mm", limit="0.5 mm + 1 mm/m")
        yield archive


def shown(archive: Archive, label: str) -> SizeLine:
    (line,) = size_labelled(archive, "Weighbridge hut", label).lines
    return line


def test_the_sources_are_named_by_share_of_the_variance(hut: Archive) -> None:
    record_reading(hut, "Weighbridge hut", "width", "1000 mm", instrument="long tape")

    # By hand, in thirds of a mm2: step 1, offset 1/4, scale 1; so 4, 1 and 4 parts in 9.
    assert shown(hut, "width").doubt == (
        "44 % rounding of the reading, 44 % the long tape's scale error, 11 % the long tape's offset"
    )
    assert shown(hut, "width").unchecked == ("long tape",)


def test_after_a_check_the_reference_has_its_share_and_the_instrument_is_not_called_unchecked(
    hut: Archive,
) -> None:
    record_reading(hut, "Weighbridge hut", "width", "2743 mm", instrument="long tape")
    check_instrument(hut, "long tape", reference="2743mm ± 2mm", reading="2743 mm")

    # By hand, in thirds of a mm2: the reference 4, the step of the check 1, that of the reading 1.
    line = shown(hut, "width")
    assert line.doubt == (
        "67 % the length that it was checked against, 17 % the long tape's offset, 17 % rounding of the reading"
    )
    assert line.unchecked == ()


def test_a_count_has_no_doubt_to_tell_of(hut: Archive) -> None:
    record_reading(hut, "Weighbridge hut", "window count", "2")

    assert shown(hut, "window count").doubt == ""


def test_a_label_that_is_not_there_is_refused_with_near_ones(hut: Archive) -> None:
    record_reading(hut, "Weighbridge hut", "width", "1000 mm")

    with pytest.raises(RecordNotFound, match="Perhaps you mean 'width'"):
        size_labelled(hut, "Weighbridge hut", "widht")
