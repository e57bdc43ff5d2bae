"""A visit on the page: its clocks put right, and its photos described, many at once."""

from __future__ import annotations

from pathlib import Path

import pytest
from asking_pages import Ids, changes_in, token_of
from flask.testing import FlaskClient

from archive.dimensions.undoing import undo
from archive.records import photos
from archive.records.archive import open_archive

CAMERA = "Halden C20"


@pytest.fixture
def june(ids: Ids) -> str:
    return f"/visit/{ids.visits['Wendle Basin, June']}"


def taken(folder: Path, *names: str) -> list[str]:
    with open_archive(folder) as archive, archive.look() as look:
        return [str(photos.photo_named(look, name).taken) for name in names]


def minutes(taken_at: str) -> int:
    return int(taken_at[11:13]) * 60 + int(taken_at[14:16])


def test_a_clock_that_was_behind_is_put_right_by_how_much(client: FlaskClient, send, june: str, demo: Path):
    before = taken(demo, "HC20_0412", "P5_20230617_101204")

    shown = send(f"{june}/clock", camera=CAMERA, amount="1h07m", way="behind").text

    after = taken(demo, "HC20_0412", "P5_20230617_101204")
    assert minutes(after[0]) - minutes(before[0]) == 67
    assert after[1] == before[1], "the other camera's clock was right"
    assert f"Clock put right: {CAMERA}: it was 1 h 7 min behind" in shown
    assert "rivetbook undo" not in shown


def test_a_clock_is_put_right_from_two_photos_of_one_moment(send, june: str, demo: Path):
    right = taken(demo, "P5_20230617_101431")

    send(f"{june}/clock/same-moment", photo="HC20_0412.JPG", shows="P5_20230617_101431.jpg")

    assert taken(demo, "HC20_0412") == right


def test_a_clock_is_put_right_from_one_in_the_picture_and_that_is_taken_back(send, june: str, demo: Path):
    before = taken(demo, "HC20_0412")

    send(f"{june}/clock/same-moment", photo="HC20_0412", shows="10:14:30")
    assert taken(demo, "HC20_0412")[0].endswith("T10:14:30")

    with open_archive(demo) as archive:
        undo(archive)
    assert taken(demo, "HC20_0412") == before


@pytest.mark.parametrize(
    ("where", "fields", "said"),
    [
        ("clock", {"camera": CAMERA, "amount": "a bit"}, "is not a length of time"),
        ("clock", {"camera": "Nobody 1", "amount": "1h"}, "camera of the visit"),
        ("clock/same-moment", {"photo": "HC20_0412", "shows": "HC20_0413"}, "the same camera"),
        ("clock/same-moment", {"photo": "HC20_9999", "shows": "10:00"}, "HC20_9999"),
    ],
)
def test_a_clock_that_cannot_be_put_right_so_is_told_and_nothing_is_changed(
    send, june: str, demo: Path, where: str, fields: dict[str, str], said: str
):
    before = changes_in(demo)

    answer = send(f"{june}/{where}", **fields)

    assert 400 <= answer.status_code < 500
    assert said in answer.text
    assert changes_in(demo) == before


def test_a_run_is_described_in_one_change_and_its_other_facts_stay(client: FlaskClient, ids: Ids, demo: Path):
    run = [ids.photos[name] for name in ("HC20_0414", "HC20_0415", "HC20_0416")]
    before = changes_in(demo)

    answer = client.post(
        "/describe",
        json={"photos": run, "facts": {"creator": "A. Moss", "rights": "mine"}},
        headers={"X-Rivetbook-Token": token_of(client)},
    )

    assert answer.status_code == 200
    assert changes_in(demo) == before + 1
    with open_archive(demo) as archive, archive.look() as look:
        known = [photos.photo_named(look, photo) for photo in run]
    assert {(p.creator, p.rights) for p in known} == {("A. Moss", "mine")}
    assert known[2].caption == "crane gear, landward side"


@pytest.mark.parametrize("facts", [{"file": "../x"}, {"caption": 3}, {"caption": "x" * 5000}, "caption", {}])
def test_facts_that_photos_have_not_change_nothing(client: FlaskClient, ids: Ids, demo: Path, facts: object):
    before = changes_in(demo)

    answer = client.post(
        "/describe",
        json={"photos": [ids.photos["HC20_0414"]], "facts": facts},
        headers={"X-Rivetbook-Token": token_of(client), "Accept": "application/json"},
    )

    assert answer.status_code == 400
    assert changes_in(demo) == before


@pytest.mark.parametrize(("photo", "view"), [("p0123456789", "front"), (None, "from the moon")])
def test_no_new_thing_is_left_behind_where_the_photos_cannot_be_linked_to_it(
    client: FlaskClient, ids: Ids, demo: Path, photo: str | None, view: str
):
    before = changes_in(demo)

    answer = client.post(
        "/link",
        json={
            "photos": [photo or ids.photos["HC20_0412"]],
            "subject": "Toll house",
            "view": view,
            "new": True,
        },
        headers={"X-Rivetbook-Token": token_of(client), "Accept": "application/json"},
    )

    assert answer.status_code in (400, 404)
    assert changes_in(demo) == before
