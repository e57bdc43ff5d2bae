"""Errors as sentences: on a page for people, as JSON for our own scripts."""

from __future__ import annotations

import tempfile
import traceback
from pathlib import PurePath

from flask import Flask, current_app, jsonify, render_template, request
from flask.typing import ResponseReturnValue
from werkzeug.exceptions import HTTPException

from archive.errors import (
    NOT_OUR_FAULT,
    ArchiveBusy,
    ArchiveReadOnly,
    FileGone,
    NameTaken,
    PictureNotReadable,
    RecordNotFound,
    RivetbookError,
    SeveralMatch,
    what_is_wrong,
)

_STATUS: tuple[tuple[type[RivetbookError], int], ...] = (
    (RecordNotFound, 404),
    (PictureNotReadable, 404),
    (FileGone, 404),
    (ArchiveReadOnly, 403),
    (ArchiveBusy, 503),
    (NameTaken, 409),
    (SeveralMatch, 409),
)
_SENTENCES = {
    404: "There is no such page.",
    405: "That cannot be done here.",
    413: (
        "That is more than the page takes at once, so nothing was kept. Send it in smaller parts; "
        "for very large files there is 'rivetbook import' in a terminal."
    ),
}


def speak_plainly(app: Flask) -> None:
    """Let the application answer every error with a sentence and no traceback."""
    app.register_error_handler(RivetbookError, _known)
    app.register_error_handler(HTTPException, _refused)
    app.register_error_handler(OSError, _of_the_machine)
    app.register_error_handler(Exception, _bug)


def wants_json() -> bool:
    """Tell whether one of our own scripts asks, not a person."""
    return request.accept_mimetypes.best_match(["text/html", "application/json"]) == "application/json"


def _answer(sentence: str, status: int) -> ResponseReturnValue:
    if wants_json():
        return jsonify(error=sentence), status
    return render_template("fault.html", sentence=sentence, status=status), status


def _known(error: RivetbookError) -> ResponseReturnValue:
    sentence = error.without_commands if request.method == "POST" else what_is_wrong(error.without_commands)
    return _answer(sentence, next((status for kind, status in _STATUS if isinstance(error, kind)), 400))


def _refused(error: HTTPException) -> ResponseReturnValue:
    status = error.code or 500
    if status < 400:  # a redirection, as Flask raises it for a missing slash
        return error.get_response()
    return _answer(_SENTENCES.get(status) or error.description or error.name, status)


def _of_the_machine(error: OSError) -> ResponseReturnValue:
    if error.errno not in NOT_OUR_FAULT:
        return _bug(error)
    file = f"'{PurePath(error.filename).name}' cannot be used" if error.filename else "Rivetbook cannot go on"
    return _answer(f"{file}: {error.strerror}. What was saved before is as it was.", 500)


def _bug(error: Exception) -> ResponseReturnValue:
    if current_app.testing:
        raise error
    with tempfile.NamedTemporaryFile(
        "w", prefix="rivetbook-fault-", suffix=".txt", delete=False, encoding="utf-8", errors="replace"
    ) as log:
        traceback.print_exception(error, file=log)
    return _answer(
        "Rivetbook made a mistake of its own. What was saved before is as it was. What happened is written in the "
        f"file '{log.name}' on the machine that Rivetbook runs on: please send it with a word on what you did.",
        500,
    )
