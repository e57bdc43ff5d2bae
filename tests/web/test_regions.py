"""Regions by plain forms and addresses, without a browser: said and taken away, shown where the subject is, odd numbers refused."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

from asking_pages import Ids, changes_in, token_of
from flask.testing import FlaskClient
from PIL import Image, ImageChops, ImageStat

from archive.records.archive import open_archive
from archive.records.regions import set_region
from archive.records.things import Region

HUT = "Weighbridge hut"
SIDES = {"left": "10", "top": "20", "width": "300", "height": "400"}


def test_a_region_is_said_and_taken_away_by_a_form(send: Callable[..., object], ids: Ids):
    address, hut = f"/photo/{ids.photos['HC20_0412']}/region", ids.subjects[HUT]

    said = send(address, subject=hut, **SIDES).text
    away = send(address, subject=hut, whole="1", **SIDES).text

    assert "HC20_0412.JPG shows Weighbridge hut, at 10,20 to 310,420 px." in said
    assert 'data-region="10,20,300,400"' in said
    assert "HC20_0412.JPG shows Weighbridge hut, without a region." in away
    assert "data-region" not in away


def test_what_a_photo_shows_within_a_region_stands_for_the_subject(client: FlaskClient, demo: Path, ids: Ids):
    hut, part = ids.subjects[HUT], "/part/300/150/900/700.jpg"
    with open_archive(demo) as archive:
        for photo in ("HC20_0413", "P5_20230617_101510"):  # of three quarters, the view that stands for it
            set_region(archive, photo, hut, Region(300, 150, 900, 700))

    for page in (f"/subject/{hut}", "/find?words=weighbridge", "/subjects"):
        assert f'{part}"' in client.get(page).text, page
    cut = Image.open(io.BytesIO(client.get(f"/photo/{ids.photos['HC20_0413']}{part}").data))
    assert cut.size == (512, 398)  # by hand: 512 x 700 / 900 = 398.2
    whole = Image.open(next(demo.rglob("HC20_0413.JPG"))).convert("RGB")
    wanted = whole.crop((300, 150, 1200, 850)).resize(cut.size)
    assert (
        max(ImageStat.Stat(ImageChops.difference(cut, wanted)).mean) < 6
    )  # of 255; moved by 10 px they would differ by 20


def test_odd_numbers_are_no_region_and_change_nothing(client: FlaskClient, demo: Path, ids: Ids):
    token, before = token_of(client), changes_in(demo)
    asked = {"token": token, "subject": ids.subjects[HUT], **SIDES}
    odd = ["", "nan", "inf", "-inf", "-1", "1e308", "0x10", "twelve", "../x", "\x00", "<script>", "9" * 400]

    for field in SIDES:
        for number in odd:
            answer = client.post(f"/photo/{ids.photos['HC20_0412']}/region", data={**asked, field: number})

            assert answer.status_code == 400, (field, number)
            assert "nothing was changed" in answer.text
            assert "<script>" not in answer.text
    for subject in ("", "../archive.db", ids.subjects["Quay lamp"], "x" * 5000):
        answer = client.post(f"/photo/{ids.photos['HC20_0412']}/region", data={**asked, "subject": subject})
        assert answer.status_code in (400, 404), subject
    assert changes_in(demo) == before


def test_a_part_that_a_photo_has_not_is_no_picture(client: FlaskClient, ids: Ids):
    for part in ("0/0/0/0", "0/0/1501/1000", "1499/999/50/50", "-1/0/9/9", "0/0/9/nan", "0/0/9", f"0/0/9/{'9' * 400}",
                 f"0/0/9/{'9' * 5000}", "../../archive.db", "0/0/9/../9"):  # fmt: skip
        answer = client.get(f"/photo/{ids.photos['HC20_0412']}/part/{part}.jpg")

        assert answer.status_code in (400, 404), part
        assert answer.mimetype != "image/jpeg"
