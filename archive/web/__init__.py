"""The browser page, one of the two doors: read the form, call one use case, show. No sums, no SQL.

`serving.serve` starts it; `create_app` makes the Flask application, with a blueprint a job. Pages are
Jinja templates and plain ES modules; nothing is fetched from outside this machine. `safety` stands before
every page: who may ask, from where, and what a browser may do with the answer.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from flask import Flask

    from archive.web.settings import PageSettings

__all__ = ["close_app", "create_app"]


def create_app(settings: PageSettings) -> Flask:
    """Return the application for one archive; `close_app` closes it after."""
    from archive.web.making import make_app  # here, so that the command line need not load Flask

    return make_app(settings)


def close_app(app: Flask) -> None:
    """Let imports that run come to their end, and close the archive."""
    from archive.web.making import close_app

    close_app(app)
