"""Attacks on the page: each is refused with a sentence, and the archive stays as it was."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from functools import partial
from html import unescape
from pathlib import Path

import pytest
from asking_pages import PORT, Ids, browser, changes_in, token_of
from flask import Flask
from flask.testing import FlaskClient

from archive.dimensions.putting_right import remove_photos
from archive.dimensions.undoing import undo
from archive.records.archive import open_archive
from archive.records.entering import enter_subject
from archive.web import close_app, create_app
from archive.web.admission import MOST_WRONG, Admission
from archive.web.saying import breakable
from archive.web.settings import PageSettings

NETWORK_ADDRESS = "192.0.2.10"


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        f"evil.example:{PORT}",
        f"127.0.0.1.evil.example:{PORT}",
        "127.0.0.1:1",
        "",
        f"10.0.0.5:{PORT}",
    ],
)
def test_a_name_that_was_made_to_point_here_gets_nothing(app: Flask, host: str):
    for address in ("/find", "/visits", "/static/page.css"):
        answer = browser(app, host).get(address)

        assert answer.status_code == 421
        assert "wendle-basin" not in answer.text
        assert "token" not in answer.text


@pytest.mark.parametrize(
    "headers",
    [{"Origin": "https://evil.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"},
     {"Origin": f"http://127.0.0.1:{PORT + 1}"}],
)  # fmt: skip
def test_a_post_from_another_site_changes_nothing_even_with_the_token(
    client: FlaskClient, demo: Path, headers: dict[str, str]
):
    token, before = token_of(client), changes_in(demo)

    answer = client.post("/visits", data={"token": token, "name": "Theirs"}, headers=headers)

    assert answer.status_code == 403
    assert changes_in(demo) == before


@pytest.mark.parametrize("token", [None, "", "guessed", "ü"])
def test_a_post_without_our_token_changes_nothing(client: FlaskClient, demo: Path, token: str | None):
    client.get("/find")
    before = changes_in(demo)

    answer = client.post("/visits", data={"name": "Theirs"} | ({} if token is None else {"token": token}))

    assert answer.status_code == 403
    assert "Load it again" in answer.text
    assert changes_in(demo) == before


CLIMBING = [
    "../archive.db",
    "..%2farchive.db",
    "%2e%2e/%2e%2e/archive.db",
    "....//archive.db",
    "/etc/passwd",
    "p0123456789/../../archive.db",
]


@pytest.mark.parametrize("path", CLIMBING)
@pytest.mark.parametrize(
    "under",
    [
        "/static/",
        "/photo/",
        "/visit/",
        "/subject/",
        "/photo/p0123456789/tile/0/0/",
        "/photo/p0123456789/part/",
    ],
)
def test_no_address_leads_out_of_where_it_begins(client: FlaskClient, under: str, path: str):
    answer = client.get(under + path)

    assert answer.status_code in (308, 404)
    assert b"SQLite format" not in answer.data
    assert b"root:" not in answer.data


@pytest.mark.parametrize("path", [*CLIMBING, "visits/x.jpg", "\x00", "a" * 5000])
def test_a_path_in_any_field_names_no_file(client: FlaskClient, demo: Path, ids: Ids, path: str):
    token, before = token_of(client), changes_in(demo)
    subject = ids.subjects["Wharf crane"]

    for field in ("words", "kind", "view", "visit", "size", "most"):
        assert client.get("/find", query_string={field: path}).status_code == 200
    answers = [
        client.post(
            f"/subject/{subject}/sizes", data={"token": token, "label": "x", "written": "1 m", "photo": path}
        ),
        client.post(
            f"/subject/{subject}/sizes",
            data={"token": token, "label": "x", "written": "1 m", "instrument": path},
        ),
        client.post(
            "/link", json={"photos": [path], "subject": subject}, headers={"X-Rivetbook-Token": token}
        ),
        client.post(
            "/link",
            json={"photos": [ids.photos["HC20_0412"]], "subject": path},
            headers={"X-Rivetbook-Token": token},
        ),
    ]

    assert all(400 <= answer.status_code < 500 for answer in answers)
    assert changes_in(demo) == before


def send(client: FlaskClient, address: str, **fields: str):
    return client.post(address, data={**fields, "token": token_of(client)})


HOSTILE = "<script>alert(1)</script><img src=x onerror=alert(2)>\"'&{{7*7}}"


def test_what_people_and_photos_say_is_shown_as_text(demo: Path):
    with open_archive(demo) as archive:
        made = enter_subject(
            archive, HOSTILE[:150], notes=HOSTILE, also=[f"other {HOSTILE}"[:150]], maker=HOSTILE
        )
    app = create_app(PageSettings(demo, PORT))
    app.testing = True
    client = browser(app)

    for address in (
        "/subjects",
        f"/subject/{made.id}",
        "/find",
        "/find/answer?words=script",
        f"/visit/{Ids(demo).visits['Wendle Basin, June']}",
    ):
        shown = client.get(address).text
        assert "<script>alert" not in shown, address
        assert (
            "onerror=alert(2)>" not in shown.replace("&gt;", ">").replace("&lt;", "<")
            or "<img src=x" not in shown
        )
        assert "49" not in shown.partition(HOSTILE[:8])[2][:200]
    assert "&lt;script&gt;" in client.get(f"/subject/{made.id}").text
    close_app(app)


def test_a_file_name_is_text_even_where_it_may_be_broken():
    # By hand: each part is escaped, the break between them is ours.
    assert breakable("<b>_1.jpg") == "&lt;b&gt;_<wbr>1.jpg"


def test_a_caption_with_script_is_shown_as_text_wherever_a_photo_is(
    client: FlaskClient, demo: Path, ids: Ids
):
    photo = ids.photos["HC20_0412"]
    answer = client.post(
        "/describe",
        json={"photos": [photo], "facts": {"caption": HOSTILE, "creator": HOSTILE, "rights": HOSTILE}},
        headers={"X-Rivetbook-Token": token_of(client)},
    )
    assert answer.status_code == 200

    for address in (f"/photo/{photo}", f"/visit/{ids.visits['Wendle Basin, June']}", "/history"):
        shown = client.get(address).text
        assert "<script>alert" not in shown, address
        assert "<img src=x" not in shown, address
    # Whoever gets out of the attribute that holds a caption must have closed it with one of our quotes.
    held = re.search(r'data-caption="([^"]*)"', client.get(f"/visit/{ids.visits['Wendle Basin, June']}").text)
    assert unescape(held[1]) == HOSTILE


def test_no_page_carries_script_or_style_that_the_policy_would_have_to_allow(client: FlaskClient, ids: Ids):
    pages = ["/find", "/visits", "/subjects", f"/visit/{ids.visits['Wendle Basin, June']}",
             f"/subject/{ids.subjects['Wharf crane']}", f"/photo/{ids.photos['HC20_0412']}"]  # fmt: skip
    for address in pages:
        answer = client.get(address)
        policy = answer.headers["Content-Security-Policy"]

        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert not re.search(r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son\w+=|javascript:", answer.text), (
            address
        )
        assert not re.findall(r'(?:src|href|action)="(?!/|#)[^"]*"', answer.text), address
        assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_a_form_larger_than_a_form_can_be_is_refused(client: FlaskClient, demo: Path):
    token, before = token_of(client), changes_in(demo)

    answer = client.post("/visits", data={"token": token, "name": "x" * (3 << 20)})

    assert answer.status_code == 413
    assert changes_in(demo) == before


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def test_while_another_program_writes_the_page_waits_and_then_says_so_plainly(
    client: FlaskClient, demo: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr("archive.web.archives.open_archive", partial(open_archive, wait_seconds=0.2))
    token, before = token_of(client), changes_in(demo)
    other = sqlite3.connect(demo / "archive.db", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    answer = client.post("/visits", data={"token": token, "name": "Meanwhile"})
    other.execute("ROLLBACK")
    other.close()

    assert answer.status_code == 503
    assert "another" in answer.text.lower()
    assert changes_in(demo) == before


def test_what_the_command_line_did_meanwhile_is_not_undone_by_a_page_that_is_older(
    client: FlaskClient, demo: Path, ids: Ids
):
    send(client, "/visits", name="From the page")
    shown = client.get("/find").text
    act = re.search(r'id="newest">.*?name="act" value="(\d+)"', shown, re.DOTALL)[1]
    with open_archive(demo, door="command line") as archive:
        archive.begin_act()
        undo(archive)
        archive.begin_act()
        remove_photos(archive, ["HC20_0413"])
    before = changes_in(demo)

    again = send(client, "/history/take-back", act=act)
    link = client.post(
        "/link",
        json={"photos": [ids.photos["HC20_0412"], ids.photos["HC20_0413"]], "subject": "Quay lamp"},
        headers={"X-Rivetbook-Token": token_of(client), "Accept": "application/json"},
    )

    assert again.status_code == 400
    assert "taken back" in again.text
    assert link.status_code == 404
    assert "photo" in link.json["error"]
    assert changes_in(demo) == before, "all or nothing"


def test_a_code_lets_in_one_device():
    shown: list[str] = []
    admission = Admission(shown.append)

    assert admission.lets_in(f"{shown[0][:4]} {shown[0][4:]}")
    assert not admission.lets_in(shown[0])
    assert len(shown) == 2


def test_wrong_codes_spend_the_code_and_shut_the_door_for_longer_each_time():
    shown: list[str] = []
    clock = Clock()
    admission = Admission(shown.append, clock=clock)
    guesses, pauses = 0, []

    while clock.now < 24 * 3600:
        for _ in range(MOST_WRONG):
            assert not admission.lets_in("wrong")
            guesses += 1
        assert not admission.lets_in(shown[-1]), "not even the right code, while the door is shut"
        pauses.append(admission.seconds_closed())
        clock.now += admission.seconds_closed()

    # By hand: 30, 60 ... 1920 s are 3810 s, then an hour each: 7 + 23 pauses of five guesses in a day.
    assert pauses[:4] == [30, 60, 120, 240]
    assert guesses <= 200
    assert admission.lets_in(shown[-1])


@pytest.fixture
def codes() -> list[str]:
    return []


@pytest.fixture
def open_app(demo: Path, codes: list[str]) -> Iterator[Flask]:
    made = create_app(PageSettings(demo, PORT, ("127.0.0.1", NETWORK_ADDRESS), on_network=True))
    made.testing = True
    made.extensions["admission"] = Admission(codes.append)
    yield made
    close_app(made)


def tablet(app: Flask) -> FlaskClient:
    return browser(app, f"{NETWORK_ADDRESS}:{PORT}", "192.0.2.77")


def test_a_device_elsewhere_sees_nothing_of_a_page_for_this_machine(app: Flask):
    assert browser(app, address="192.0.2.77").get("/find").status_code == 403
    assert browser(app, address="192.0.2.77").get("/let-in").status_code == 403


def test_a_tablet_sees_only_the_form_for_the_code_until_it_is_let_in(
    open_app: Flask, codes: list[str], ids: Ids
):
    device = tablet(open_app)
    page = {"Accept": "text/html,*/*;q=0.8"}
    assert device.get("/find", headers=page).headers["Location"] == "/let-in"
    assert (
        device.get(f"/photo/{ids.photos['HC20_0412']}/small.jpg", headers={"Accept": "image/*"}).status_code
        == 401
    )
    assert device.get("/find", headers={**page, "X-Forwarded-For": "127.0.0.1"}).status_code == 302

    token = token_of(device, f"/let-in?code={codes[0]}")
    assert device.get("/find", headers=page).status_code == 302, (
        "an address with the code in it only fills it in"
    )
    assert device.post("/let-in", data={"token": token, "code": codes[0]}).status_code == 302

    assert device.get("/find").status_code == 200
    assert tablet(open_app).get("/find", headers=page).status_code == 302, (
        "the next device has its own code to give"
    )


def test_a_tablet_may_look_and_not_change(open_app: Flask, codes: list[str], demo: Path):
    device = tablet(open_app)
    device.post("/let-in", data={"token": token_of(device, "/let-in"), "code": codes[0]})
    before = changes_in(demo)

    answer = device.post("/visits", data={"token": token_of(device), "name": "From the tablet"})

    assert answer.status_code == 403
    assert changes_in(demo) == before
    assert '<form method="post"' not in device.get("/visits").text


def test_many_wrong_codes_are_told_to_wait(open_app: Flask, codes: list[str]):
    device = tablet(open_app)
    token = token_of(device, "/let-in")
    answers = [
        device.post("/let-in", data={"token": token, "code": "00000000 wrong"[:n]})
        for n in range(MOST_WRONG + 3)
    ]

    assert {answer.status_code for answer in answers} == {403}
    assert "too many wrong codes" in answers[-1].text
    assert len(codes) == 2
    assert device.post("/let-in", data={"token": token, "code": codes[-1]}).status_code == 403
