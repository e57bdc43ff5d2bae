"""Drawings with several pages: the chosen ones become photos of one original, with their size on paper."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from made_pictures import made_view, opened
from PIL import Image, ImageChops
from reportlab.pdfgen import canvas
from wendle_basin import new_archive

from archive.dimensions.putting_right import move_photos, remove_photos
from archive.dimensions.undoing import undo
from archive.errors import NotAccepted
from archive.ingest import previews
from archive.ingest.importing import import_files
from archive.ingest.pages import parse_pages
from archive.ingest.report import ImportReport
from archive.records import photos
from archive.records.archive import Archive
from archive.records.fixity import verify
from archive.records.look_alikes import look_alikes
from archive.records.things import Photo

JUNE = "Wendle Basin, June"


def drawing(file: Path, pages: int = 4) -> Path:
    """Sheets of A4 lying down, the last of them standing, each with another figure on it."""
    written = canvas.Canvas(str(file), pagesize=(842, 595), invariant=1)
    for number in range(pages):
        if number == pages - 1:
            written.setPageSize((595, 842))
        written.setLineWidth(9)
        written.circle(150 + 90 * number, 300, 60 + 30 * number)
        written.rect(40, 40, 80 * (number + 1), 60, fill=1)
        written.showPage()
    written.save()
    return file


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    with new_archive(tmp_path / "archive") as opened_:
        yield opened_


def held(archive: Archive) -> dict[str, Photo]:
    with archive.look() as look:
        every = photos.all_photos(look)
    return {photo.file: photo for photo in sorted(every, key=lambda photo: photo.page or 0)}


def brought_in(archive: Archive, file: Path, pages: str = "1") -> ImportReport:
    archive.begin_act()
    report = import_files(archive, [file], visit=JUNE, pages=parse_pages(pages))
    archive.begin_act()
    return report


def test_without_a_word_the_first_page_is_taken_and_the_others_are_told(
    archive: Archive, tmp_path: Path
) -> None:
    report = brought_in(archive, drawing(tmp_path / "crane plan.pdf"))

    assert report.imported == ["crane plan.pdf"]
    assert [(h.code, h.message[:44]) for h in report.hints] == [
        ("more-pages", "It has 4 pages, and the first was taken. For")
    ]


def test_each_chosen_page_is_a_photo_with_its_size_on_paper_and_one_original(
    archive: Archive, tmp_path: Path
) -> None:
    file = drawing(tmp_path / "crane plan.pdf")
    report = brought_in(archive, file, "1,3-4")

    found = held(archive)
    assert (
        report.imported
        == list(found)
        == ["crane plan.pdf", "crane plan, page 3.pdf", "crane plan, page 4.pdf"]
    )
    assert [photo.page for photo in found.values()] == [1, 3, 4]
    # A4 is 842 x 595 points of 25.4/72 mm.
    last = found["crane plan, page 4.pdf"]
    assert (last.paper_width_mm, last.paper_height_mm) == (
        pytest.approx(209.9, abs=0.1), pytest.approx(297.0, abs=0.1),
    )  # fmt: skip
    assert (last.width or 0) < (last.height or 0)
    assert {photo.picture.sha256 for photo in found.values()} == {last.picture.sha256}
    assert archive.path_of(last.picture.stored_path).read_bytes() == file.read_bytes()
    assert (verify(archive).files, verify(archive).findings) == (1, [])


def test_pages_come_in_their_order_whichever_came_in_first(archive: Archive, tmp_path: Path) -> None:
    brought_in(archive, drawing(tmp_path / "plan.pdf", 12), "3,10-12")
    brought_in(archive, drawing(tmp_path / "plan.pdf", 12), "all")

    with archive.look() as look:
        assert [photo.page for photo in photos.all_photos(look)] == list(range(1, 13))


def test_every_page_shows_itself(archive: Archive, tmp_path: Path) -> None:
    brought_in(archive, drawing(tmp_path / "plan.pdf"), "all")

    shown = [opened(previews.preview_of(archive, photo)).convert("L") for photo in held(archive).values()]
    same_size = [picture.resize((100, 100)) for picture in shown]
    assert len(shown) == 4
    assert all(ImageChops.difference(one, same_size[0]).getbbox() for one in same_size[1:])
    for preview in (archive.folder / "previews").rglob("*.jpg"):
        preview.unlink()
    again = [opened(previews.preview_of(archive, photo)).convert("L") for photo in held(archive).values()]
    assert all(ImageChops.difference(a, b).getbbox() is None for a, b in zip(shown, again, strict=True))
    assert look_alikes(archive, held(archive)["plan.pdf"]) == []


def test_other_pages_can_be_taken_later_and_none_comes_twice(archive: Archive, tmp_path: Path) -> None:
    file = drawing(tmp_path / "plan.pdf")
    brought_in(archive, file, "2")
    assert list(held(archive)) == ["plan.pdf"]
    assert held(archive)["plan.pdf"].page == 2

    assert brought_in(archive, file, "2-3").imported == ["plan, page 3.pdf"]
    report = brought_in(archive, file, "all")
    assert sorted(report.imported) == ["plan, page 1.pdf", "plan, page 4.pdf"]
    assert len(report.already_held) == 1
    assert brought_in(archive, file, "all").imported == []


def test_a_page_that_there_is_not_takes_the_first(archive: Archive, tmp_path: Path) -> None:
    assert brought_in(archive, drawing(tmp_path / "plan.pdf"), "9").imported == ["plan.pdf"]
    assert held(archive)["plan.pdf"].page == 1


def test_pages_go_together_and_come_back_together(archive: Archive, tmp_path: Path) -> None:
    file = drawing(tmp_path / "plan.pdf")
    brought_in(archive, file, "1,2")
    (tmp_path / "may.png").write_bytes(_png())
    import_files(archive, [tmp_path / "may.png"], visit="Wendle Basin, May")
    archive.begin_act()

    move_photos(archive, ["plan, page 2"], "Wendle Basin, May")
    assert {photo.visit for name, photo in held(archive).items() if "plan" in name} == {"Wendle Basin, May"}
    assert verify(archive).findings == []
    archive.begin_act()
    remove_photos(archive, ["plan.pdf", "plan, page 2"])
    assert list(held(archive)) == ["may.png"]
    archive.begin_act()
    undo(archive)
    undo(archive, 3)
    assert {photo.visit for name, photo in held(archive).items() if "plan" in name} == {JUNE}
    assert verify(archive).findings == []


def _png() -> bytes:
    out = io.BytesIO()
    made_view(2).save(out, "PNG")
    return out.getvalue()


def test_one_page_can_be_taken_out_alone_and_its_file_stays(archive: Archive, tmp_path: Path) -> None:
    brought_in(archive, drawing(tmp_path / "plan.pdf"), "1,2")

    remove_photos(archive, ["plan, page 2"])

    assert list(held(archive)) == ["plan.pdf"]
    assert verify(archive).findings == []


def test_pages_of_a_tiff_are_taken_as_well(archive: Archive, tmp_path: Path) -> None:
    first, *more = [made_view(n, (300, 200 + n)) for n in range(3)]
    first.save(tmp_path / "scan.tif", save_all=True, append_images=more)
    report = brought_in(archive, tmp_path / "scan.tif", "all")

    assert len(report.imported) == 3
    assert [photo.height for photo in held(archive).values()] == [200, 201, 202]


def test_a_page_larger_than_can_be_drawn_at_full_size_is_drawn_smaller(
    archive: Archive, tmp_path: Path
) -> None:
    written = canvas.Canvas(str(tmp_path / "A0.pdf"), pagesize=(84.1 * 72 / 2.54, 118.9 * 72 / 2.54))
    written.circle(900, 900, 500)
    written.save()
    brought_in(archive, tmp_path / "A0.pdf")

    (sheet,) = held(archive).values()
    assert (sheet.paper_width_mm, sheet.paper_height_mm) == (pytest.approx(841), pytest.approx(1189))
    assert (sheet.width or 0) * (sheet.height or 0) <= 60_100_000
    assert Image.open(io.BytesIO(previews.preview_of(archive, sheet))).size[1] == 512


@pytest.mark.parametrize(
    ("written", "pages"),
    [("2", (2,)), ("1,3-5", (1, 3, 4, 5)), ("4, 2", (2, 4)), ("2 to 3", (2, 3)), ("all", None)],
)
def test_pages_are_named_as_people_write_them(written: str, pages: tuple[int, ...] | None) -> None:
    assert parse_pages(written) == pages


@pytest.mark.parametrize("written", ["", "0", "3-1", "two", "1-99999", "1-900"])
def test_what_names_no_pages_is_refused(written: str) -> None:
    with pytest.raises(NotAccepted, match="does not name pages"):
        parse_pages(written)
