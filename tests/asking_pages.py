"""What tests of the browser page share: a browser that asks, its token, and the ids of the demo's records."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from archive.records import photos, subjects, visits
from archive.records.archive import open_archive

PORT = 8743


class Browser(FlaskClient):
    """A browser that asks for `host`, on a machine of this address."""

    host = f"127.0.0.1:{PORT}"
    address = "127.0.0.1"

    def open(self, *args: Any, **more: Any) -> TestResponse:
        if not args or isinstance(args[0], str):
            told = {"HTTP_HOST": self.host, "REMOTE_ADDR": self.address}
            more["environ_overrides"] = told | more.get("environ_overrides", {})
        return super().open(*args, **more)


def browser(app: Flask, host: str = Browser.host, address: str = Browser.address) -> Browser:
    """A fresh browser that asks for `host`, on a machine of this address."""
    asking = Browser(app, app.response_class, use_cookies=True)
    asking.host, asking.address = host, address
    return asking


def token_of(client: FlaskClient, page: str = "/find") -> str:
    """The token that our own pages carry."""
    found = re.search(r'(?:data-token|name="token" value)="([^"]+)"', client.get(page).text)
    assert found is not None
    return found[1]


class Ids:
    """The ids of an archive's records: photos by file name without its ending, the others by name."""

    def __init__(self, folder: Path) -> None:
        with open_archive(folder) as archive, archive.look() as look:
            self.photos = {p.file.rpartition(".")[0]: p.id for p in photos.all_photos(look)}
            self.subjects = {s.name: s.id for s in subjects.all_subjects(look)}
            self.visits = {v.name: v.id for v in visits.all_visits(look)}


def changes_in(folder: Path) -> int:
    """How many changes the archive's history holds."""
    from archive.records.changes import newest_change

    with open_archive(folder) as archive, archive.look() as look:
        return newest_change(look)
