"""Attacks on every address that the application knows, as its own map lists them: a new one is tried without being named."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from asking_pages import PORT, Ids, browser, changes_in, token_of
from flask import Flask, Request
from flask.testing import FlaskClient
from werkzeug.datastructures import ImmutableMultiDict

from archive.records import instruments, sizes, subjects
from archive.records.archive import open_archive
from archive.records.fixity import verify
from archive.web import close_app, create_app
from archive.web.admission import Admission
from archive.web.settings import PageSettings

CLIMBING = "../../archive.db"
TABLET = "192.0.2.77"


@dataclass(frozen=True)
class Address:
    """One thing that a browser may ask for, with ids of records that are there."""

    method: str
    path: str
    endpoint: str
    arguments: tuple[str, ...]


@pytest.fixture
def addresses(app: Flask, client: FlaskClient, demo: Path, ids: Ids) -> list[Address]:
    with open_archive(demo) as archive, archive.look() as look:
        tool = instruments.all_instruments(look)[0].id
        crane = sizes.dimensions_of(look, subjects.subject_named(look, "Wharf crane"))
        reading = sizes.readings_of(look, crane)[crane[0].key][0].id
    batch = client.post("/bring-in", json={}, headers={"X-Rivetbook-Token": token_of(client)}).json
    there: dict[str, Any] = {
        "visit_id": ids.visits["Wendle Basin, June"], "subject_id": ids.subjects["Wharf crane"], "tally_id": "y0123456789", "reading_id": reading,
        "photo_id": ids.photos["HC20_0412"], "instrument_id": tool, "batch_id": batch["state"].split("/")[2],
        "filename": "page.css", "left": 0, "top": 0, "width": 100, "height": 100, "level": 0, "column": 0, "row": 0,
    }  # fmt: skip
    found = []
    for rule in app.url_map.iter_rules():
        built = app.url_map.bind("x").build(rule.endpoint, {name: there[name] for name in rule.arguments})
        for method in sorted((rule.methods or set()) - {"HEAD", "OPTIONS"}):
            found.append(Address(method, built, rule.endpoint, tuple(sorted(rule.arguments))))
    assert len(found) > 40
    return found


def posts(addresses: list[Address]) -> list[Address]:
    return [each for each in addresses if each.method == "POST"]


def test_a_name_that_was_made_to_point_here_gets_nothing_at_any_address(
    app: Flask, addresses: list[Address], demo: Path
):
    before = changes_in(demo)
    elsewhere = browser(app, f"evil.example:{PORT}")
    for each in addresses:
        answer = elsewhere.open(each.path, method=each.method)
        assert answer.status_code == 421, each
        assert "wendle-basin" not in answer.text
        assert "token" not in answer.text
    assert changes_in(demo) == before


@pytest.mark.parametrize("headers", [{"Origin": "https://evil.example"}, {"Sec-Fetch-Site": "cross-site"}])
def test_a_post_from_another_site_changes_nothing_at_any_address(
    client: FlaskClient, addresses: list[Address], demo: Path, headers: dict[str, str]
):
    token, before = token_of(client), changes_in(demo)
    for each in posts(addresses):
        for sent in ({"data": {"token": token, "name": "Theirs"}}, {"json": {"subject": "Theirs"}}):
            answer = client.post(each.path, headers={**headers, "X-Rivetbook-Token": token}, **sent)
            assert answer.status_code == 403, each
    assert changes_in(demo) == before


def test_every_address_that_changes_something_asks_for_the_token(
    client: FlaskClient, addresses: list[Address], demo: Path
):
    before = changes_in(demo)
    for each in posts(addresses):
        assert client.post(each.path, data={"name": "Theirs"}).status_code == 403, each
    assert changes_in(demo) == before


def test_no_address_that_only_looks_changes_anything(
    client: FlaskClient, addresses: list[Address], demo: Path
):
    before = changes_in(demo)
    question = {
        "name": "x",
        "label": "x",
        "written": "1 m",
        "act": "1",
        "subject": "x",
        "token": token_of(client),
    }
    for each in addresses:
        if each.method == "GET":
            assert client.get(each.path, query_string=question, buffered=True).status_code < 500, each
    assert changes_in(demo) == before


def test_a_device_that_was_not_let_in_sees_nothing_and_one_that_was_changes_nothing(
    demo: Path, addresses: list[Address]
):
    codes: list[str] = []
    app = create_app(PageSettings(demo, PORT, ("127.0.0.1", "192.0.2.10"), on_network=True))
    app.extensions["admission"] = Admission(codes.append)
    device = browser(app, f"192.0.2.10:{PORT}", TABLET)
    before = changes_in(demo)
    for each in addresses:
        if each.endpoint not in ("static", "admission.ask", "admission.let_in"):
            answer = device.open(each.path, method=each.method)
            assert answer.status_code in (302, 401), each
            assert "wendle-basin" not in answer.text
    device.post("/let-in", data={"token": token_of(device, "/let-in"), "code": codes[0]})
    token = token_of(device)
    for each in posts(addresses):
        if each.endpoint != "admission.let_in":
            assert device.post(each.path, headers={"X-Rivetbook-Token": token}).status_code == 403, each
    assert changes_in(demo) == before
    close_app(app)


def test_a_path_in_the_place_of_any_part_of_an_address_leads_nowhere(
    app: Flask, client: FlaskClient, addresses: list[Address]
):
    rules = {rule.endpoint: rule for rule in app.url_map.iter_rules() if rule.arguments}
    tried = 0
    for rule in rules.values():
        there = next(each for each in addresses if each.endpoint == rule.endpoint).path.split("/")
        parts = rule.rule.split("/")
        for place, part in enumerate(parts):
            if "<" not in part:
                continue
            for path in (CLIMBING, "..%2f..%2farchive.db", "%2e%2e", "/etc/passwd", "%00", "a" * 3000):
                answer = client.get("/".join([*there[:place], path, *there[place + 1 :]]))
                assert answer.status_code in (308, 400, 404, 405), (rule, path)
                assert b"SQLite format" not in answer.data
                tried += 1
    assert tried > 150


@dataclass
class Read:
    """What the application asks for of what is sent to it."""

    names: set[str] = field(default_factory=set)
    as_script: bool = False

    def note_in(self, app: Flask) -> None:
        names, read = self.names, self

        class Fields(ImmutableMultiDict[str, str]):
            def get(self, key: str, *more: Any, **options: Any) -> Any:
                names.add(key)
                return super().get(key, *more, **options)

            def __contains__(self, key: object) -> bool:
                names.add(str(key))
                return super().__contains__(key)

            def getlist(self, key: str, *more: Any) -> list[Any]:
                names.add(key)
                return super().getlist(key, *more)

        class Sent(dict[str, Any]):
            def get(self, key: str, default: Any = None) -> Any:
                names.add(key)
                return super().get(key, default)

        class Noting(Request):
            parameter_storage_class = Fields

            def get_json(self, *more: Any, **options: Any) -> Any:
                read.as_script = True
                sent = super().get_json(*more, **options)
                return Sent(sent) if isinstance(sent, dict) else sent

        app.request_class = Noting


def test_a_path_in_any_field_that_any_address_reads_names_no_file(
    app: Flask, client: FlaskClient, addresses: list[Address], demo: Path, ids: Ids, tmp_path: Path
):
    """Where a path is as good a name as any other it is kept as text; nothing is read or written elsewhere."""
    headers = {"X-Rivetbook-Token": token_of(client)}
    usual = {"photos": [ids.photos["HC20_0412"]], "facts": {"caption": "x"}, "act": "0"}
    around = {each for each in tmp_path.rglob("*") if demo not in each.parents}
    tried = 0
    for each in addresses:
        read = Read()
        read.note_in(app)

        def send(fields: dict[str, Any], each: Address = each, read: Read = read) -> None:
            body = {"json": fields} if read.as_script else {"data": fields}
            sent = body if each.method == "POST" else {}
            answer = client.open(
                each.path, method=each.method, query_string=fields, headers=headers, buffered=True, **sent
            )
            assert answer.status_code < 500, (each, fields, answer.text)
            assert b"SQLite format" not in answer.data
            assert b"root:" not in answer.data

        known: set[str] = set()
        send({})
        send({})  # now as a script does, where that is what it takes
        while more := read.names - known - {"token"}:  # it asks for more as it is told more
            known |= more
            send({name: usual.get(name, "1") for name in known})
        for name in known:
            for path in (CLIMBING, [CLIMBING]) if read.as_script else (CLIMBING,):
                send({**{other: usual.get(other, "1") for other in known}, name: path})
                tried += 1
    assert tried > 130
    assert {each for each in tmp_path.rglob("*") if demo not in each.parents} == around
    with open_archive(demo) as archive:
        assert not verify(archive).findings, "every original is where and what it was"
