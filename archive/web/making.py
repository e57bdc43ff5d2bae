"""The application: its blueprints, its guards, and what every template may use."""

from __future__ import annotations

from flask import Flask, request
from werkzeug.routing import BaseConverter

from archive.web import (
    admission_page,
    bringing_in,
    clocks,
    faults,
    finding,
    history,
    instruments,
    linking,
    photos,
    safety,
    saying,
    sizes,
    subjects,
    visits,
)
from archive.web.archives import Archives, archive
from archive.web.batches import Batches
from archive.web.settings import PageSettings

_JOBS = (
    finding, visits, linking, clocks, subjects, sizes, photos, instruments, bringing_in, history, admission_page,
)  # fmt: skip


class RecordId(BaseConverter):
    """A public id in an address: nothing else of an address ever names a record, and none names a file."""

    regex = r"[a-z][0-9a-z]{10}"


def make_app(settings: PageSettings) -> Flask:
    """Return the application for one archive."""
    app = Flask(__name__.rpartition(".")[0], static_url_path="/static")
    app.url_map.converters["id"] = RecordId
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.extensions["archives"] = Archives(settings.folder)
    app.extensions["batches"] = Batches()
    safety.guard(app, settings)
    faults.speak_plainly(app)
    saying.teach(app)
    for job in _JOBS:
        app.register_blueprint(job.page)

    @app.before_request
    def _an_act_of_its_own() -> None:
        if request.method == "POST" and request.endpoint != "admission.let_in":
            archive().begin_act()

    app.jinja_env.globals.update(
        archive_name=settings.folder.name,
        newest_to_take_back=history.newest_to_take_back,
        read_only=lambda: not safety.may_change() or archive().read_only,
    )

    return app


def close_app(app: Flask) -> None:
    """Let imports that run come to their end, and close the archive."""
    app.extensions["batches"].close()
    app.extensions["archives"].close()
