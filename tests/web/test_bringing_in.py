"""Files sent to the page: imported with the same report as from the command line, whatever they are and are called."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from io import BytesIO
from pathlib import Path

import pytest
from asking_pages import PORT, Browser, browser, changes_in, token_of
from flask import Flask
from flask.testing import FlaskClient
from made_pictures import exif_block, jpeg_bytes, png_bytes, upright_scene, with_exif
from reportlab.pdfgen import canvas

from archive.carried import carried_folder
from archive.dimensions.putting_right import amend_photos, remove_photos
from archive.errors import NotAccepted
from archive.ingest.importing import import_files
from archive.records import photos
from archive.records.archive import open_archive
from archive.records.folder import make_archive
from archive.web import batches, close_app, create_app
from archive.web.batches import Batch
from archive.web.settings import PageSettings

PHOTOS = carried_folder("demo_library") / "photos"
SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


@pytest.fixture
def empty(tmp_path: Path) -> Path:
    make_archive(tmp_path / "new")
    return tmp_path / "new"


class Delivery:
    """A delivery as our own page makes one."""

    def __init__(self, client: FlaskClient, pages: str = "") -> None:
        self._client = client
        self._headers = {"X-Rivetbook-Token": token_of(client), "Accept": "application/json"}
        self.addresses = client.post("/bring-in", json={"pages": pages}, headers=self._headers).json

    def send(self, name: str, content: bytes, **more: object):
        return self._client.post(
            self.addresses["file"], query_string={"name": name}, data=content, headers=self._headers, **more
        )

    def finish(self, app: Flask, visit: str = "", **more: object) -> str:
        shown = self.finish_with_forms(app, visit, **more)
        return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", shown)).strip()

    def finish_with_forms(self, app: Flask, visit: str, **more: object) -> str:
        sent = {"visit": visit, **more}
        answer = self._client.post(self.addresses["start"], json=sent, headers=self._headers)
        assert answer.status_code == 202, answer.json
        batch_id = self.addresses["state"].split("/")[2]
        app.extensions["batches"].get(batch_id).wait()
        state = self._client.get(self.addresses["state"]).json
        assert state["finished"]
        assert not state["error"]
        return self._client.get(self.addresses["report"]).text


@pytest.fixture
def page_over() -> Iterator[Callable[[Path], tuple[Flask, Browser]]]:
    """Makes a page over an archive, and closes it after."""
    made: list[Flask] = []

    def page(folder: Path) -> tuple[Flask, Browser]:
        app = create_app(PageSettings(folder, PORT))
        app.testing = True
        made.append(app)
        return app, browser(app)

    yield page
    for app in made:
        close_app(app)


def test_files_sent_to_the_page_are_imported_as_from_the_command_line(empty: Path, page_over, tmp_path: Path):
    names = ["HC20_0412.JPG", "HC20_0413.JPG", "P5_20230617_101204.jpg"]
    app, client = page_over(empty)
    delivery = Delivery(client)
    for name in names:
        assert delivery.send(f"card/{name}", (PHOTOS / name).read_bytes()).status_code == 200
    delivery.send("card/notes.txt", b"post height 9ft")

    report = delivery.finish(app, "By page")

    make_archive(tmp_path / "by hand")
    with open_archive(tmp_path / "by hand") as other:
        by_hand = import_files(other, [PHOTOS / name for name in names], visit="By page")
        with other.look() as look:
            expected = {(p.file, p.taken, p.width, p.picture.sha256) for p in photos.all_photos(look)}
    with open_archive(empty) as archive, archive.look() as look:
        assert {(p.file, p.taken, p.width, p.picture.sha256) for p in photos.all_photos(look)} == expected
    assert f"Imported {len(by_hand.imported)} photos into the visit By page" in report
    assert "1 file was left out: card/notes.txt" in report
    assert "rivetbook-incoming" not in report


def test_the_same_file_sent_again_is_held_once(empty: Path, page_over):
    app, client = page_over(empty)
    content = (PHOTOS / "HC20_0412.JPG").read_bytes()
    first = Delivery(client)
    first.send("a.jpg", content)
    first.finish(app, "One")
    second = Delivery(client)
    second.send("b.jpg", content)

    assert "1 file was in the archive already and was not copied again" in second.finish(app, "One")


def drawing_of_four_pages() -> bytes:
    file = BytesIO()
    sheets = canvas.Canvas(file, pagesize=(842, 595), invariant=1)
    for number in range(1, 5):
        sheets.circle(150 * number, 300, 60)
        sheets.showPage()
    sheets.save()
    return file.getvalue()


def test_other_pages_of_a_drawing_are_chosen_on_the_page(empty: Path, page_over):
    app, client = page_over(empty)
    content = drawing_of_four_pages()
    first = Delivery(client)
    first.send("crane plan.pdf", content)
    assert "It has 4 pages, and the first was taken. For others, say which above" in first.finish(app, "One")

    others = Delivery(client, pages="2, 4")
    others.send("crane plan.pdf", content)

    assert "Imported 2 photos" in others.finish(app, "One")
    with open_archive(empty) as archive, archive.look() as look:
        assert {photo.page for photo in photos.all_photos(look)} == {1, 2, 4}
    said = client.post(
        "/bring-in",
        json={"pages": "the last"},
        headers={"X-Rivetbook-Token": token_of(client), "Accept": "application/json"},
    )
    assert said.status_code == 400
    assert "'the last' does not name pages" in said.json["error"]


def test_what_may_be_done_about_a_hint_is_told_in_the_words_of_the_page(empty: Path, page_over):
    app, client = page_over(empty)
    delivery = Delivery(client)
    delivery.send("Screenshot 1.png", png_bytes(upright_scene()))
    for day in ("2023:06:17", "2023:08:17"):
        block = exif_block({0x0110: (2, "P5")}, {0x9003: (2, f"{day} 10:14:31"), 0x9011: (2, "+14:00")})
        delivery.send(f"{day[:7].replace(':', ' ')}.jpg", with_exif(jpeg_bytes(upright_scene()), block))

    report = delivery.finish(app)

    for said in (
        "write the size down there",
        "take this import back in the history",
        "put its zone right on its page",
    ):
        assert said in report
    assert "rivetbook " not in report
    assert "--" not in report


@pytest.fixture
def taken_out(empty: Path) -> bytes:
    """A photo with a caption, taken out of the archive again; returns its bytes."""
    with open_archive(empty) as archive:
        import_files(archive, [PHOTOS / "HC20_0412.JPG"], visit="One")
        amend_photos(archive, ["HC20_0412"], caption="The crane from the lock side")
        archive.begin_act()
        remove_photos(archive, ["HC20_0412"])
    return (PHOTOS / "HC20_0412.JPG").read_bytes()


def captions_in(folder: Path) -> list[str | None]:
    with open_archive(folder) as archive, archive.look() as look:
        return [photo.caption for photo in photos.all_photos(look)]


def test_a_photo_that_was_taken_out_is_offered_back_with_what_was_written_about_it(
    empty: Path, page_over, taken_out: bytes
):
    app, client = page_over(empty)
    delivery = Delivery(client)
    delivery.send("crane.jpg", taken_out)

    report = delivery.finish_with_forms(app, "One")

    assert "crane.jpg: it was taken out of this archive on" in report
    assert "rivetbook undo" not in report
    assert captions_in(empty) == []
    sent = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', report))
    answer = client.post("/history/take-back", data=sent, follow_redirects=True)
    assert "Took back: Removed HC20_0412.JPG" in answer.text
    assert captions_in(empty) == ["The crane from the lock side"]


def test_a_photo_that_was_taken_out_comes_in_as_a_new_one_where_that_is_ticked(
    empty: Path, page_over, taken_out: bytes
):
    app, client = page_over(empty)
    delivery = Delivery(client)
    delivery.send("crane.jpg", taken_out)

    assert "Imported 1 photo into the visit One" in delivery.finish(app, "One", taken_out=True)
    assert captions_in(empty) == [None]


@pytest.mark.parametrize(
    "name",
    ["../../archive.db", "/etc/cron.d/x", "..\\..\\evil.jpg", "a/../../b.jpg", "C:\\Windows\\x.jpg", "x\x00.jpg",
     "con.jpg", "a" * 400 + ".jpg", "/".join("abcdefghijklmnop") + "/x.jpg", "\u202egpj.exe"],
)  # fmt: skip
def test_a_name_leads_nowhere_out_of_the_delivery(tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    batch = Batch()
    batch.receive(name, 3, BytesIO(b"abc"))

    inside = next(tmp_path.glob("rivetbook-incoming-*"))
    written = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert len(written) == 1
    assert inside in written[0].resolve().parents
    batch.forget()


@pytest.mark.parametrize(
    "name", ["card/._HC20_0412.JPG", "card/.DS_Store", "card/.Trashes/HC20_0412.JPG", "Thumbs.db"]
)
def test_what_computers_leave_beside_files_is_passed_over(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    batch = Batch()
    batch.receive(name, 3, BytesIO(b"abc"))

    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []
    batch.forget()


def test_two_files_of_one_name_are_both_kept(empty: Path, page_over):
    app, client = page_over(empty)
    delivery = Delivery(client)
    delivery.send("IMG_1.jpg", (PHOTOS / "HC20_0412.JPG").read_bytes())
    delivery.send("img_1.JPG", (PHOTOS / "HC20_0413.JPG").read_bytes())

    assert "Imported 2 photos" in delivery.finish(app, "Two")


def test_an_svg_with_script_is_left_out_and_never_shown(empty: Path, page_over):
    app, client = page_over(empty)
    delivery = Delivery(client)
    delivery.send("plan.svg", SVG)
    delivery.send("plan.jpg", SVG)

    report = delivery.finish(app, "Drawings")

    assert "2 files were left out" in report
    assert "alert" not in report
    assert not list((empty / "visits").rglob("*plan*"))


def test_two_gigabytes_are_refused_before_they_are_sent(app: Flask, client: FlaskClient, demo: Path):
    delivery, before = Delivery(client), changes_in(demo)

    answer = delivery.send("huge.tif", b"", environ_overrides={"CONTENT_LENGTH": str(2 << 30)})

    assert answer.status_code == 413
    assert "rivetbook import" in answer.json["error"]
    assert changes_in(demo) == before


def test_a_file_that_does_not_arrive_whole_is_not_kept(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    batch = Batch()
    with pytest.raises(NotAccepted, match="did not arrive whole"):
        batch.receive("half.jpg", 100, BytesIO(b"only this"))

    assert not [path for path in tmp_path.rglob("*") if path.is_file()]
    batch.forget()


def test_a_full_disk_is_told_before_anything_is_written(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(batches.shutil, "disk_usage", lambda _path: shutil._ntuple_diskusage(1, 1, 0))
    batch = Batch()
    with pytest.raises(NotAccepted, match="no room left"):
        batch.receive("a.jpg", 10, BytesIO(b"0123456789"))
    batch.forget()


def test_deliveries_that_nobody_finishes_are_few_and_are_forgotten():
    now = [0.0]
    held = batches.Batches(now=lambda: now[0])
    first, *_ = [held.new() for _ in range(4)]
    with pytest.raises(NotAccepted, match="under way"):
        held.new()

    now[0] = first.touched + 3601 + 10
    assert held.new()
    assert held.get(first.id) is None
    held.close()
