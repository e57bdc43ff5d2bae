"""What stands before every page: who may ask, from where, and what a browser may do with the answer.

A page on this machine can be reached by any website that the browser has open: by a form that posts
here, or by a name that is made to point here (DNS rebinding). So the Host must be one of ours, the
Origin too, and every change carries a token that only our own pages know (OWASP, Cross-Site Request
Forgery Prevention). What photos say of themselves is hostile text: templates escape it, and the content
security policy lets no script run that is not a file of ours.
"""

from __future__ import annotations

import hmac
import secrets
from ipaddress import ip_address

from flask import Flask, Request, Response, abort, current_app, redirect, request, session, url_for
from werkzeug.wrappers import Response as AnyResponse

from archive.web.settings import PageSettings

_LOOKING = frozenset({"GET", "HEAD", "OPTIONS"})
_TOKEN = "token"
_TOKEN_HEADER = "X-Rivetbook-Token"
_ADMITTED = "admitted"
MOST_FORM_BYTES = 2 << 20
_HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


def guard(app: Flask, settings: PageSettings) -> None:
    """Put the checks before every page of the application, and the headers on every answer."""
    app.config.update(
        SECRET_KEY=secrets.token_bytes(
            32
        ),  # of this run alone: pages of an earlier run cannot change anything
        SESSION_COOKIE_NAME=f"rivetbook-{settings.port}",  # cookies know no ports, several archives may be open
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        MAX_CONTENT_LENGTH=MOST_FORM_BYTES,
        MAX_FORM_PARTS=5000,
    )
    app.extensions["page settings"] = settings
    app.before_request(_check_where_from)
    app.before_request(_check_who)
    app.before_request(_check_token)
    app.after_request(_with_headers)
    app.jinja_env.globals.update(token=token)


def token() -> str:
    """Return the token that this browser's changes must carry."""
    if _TOKEN not in session:
        session[_TOKEN] = secrets.token_urlsafe(32)
    return str(session[_TOKEN])


def on_this_machine(asked: Request) -> bool:
    """Tell whether the browser runs on this machine; headers that a proxy would set are not believed."""
    try:
        return ip_address(asked.remote_addr or "").is_loopback
    except ValueError:
        return False


def may_change() -> bool:
    """Tell whether the browser that asks may change anything."""
    return on_this_machine(request) or _settings().may_change


def admit() -> None:
    """Let the device that asks in, until the page is closed."""
    session.clear()
    session[_ADMITTED] = True


def _settings() -> PageSettings:
    settings: PageSettings = current_app.extensions["page settings"]
    return settings


def _check_where_from() -> None:
    hosts = _settings().hosts
    if request.host.lower() not in hosts:
        abort(
            421,
            "This address is not one of Rivetbook's own. Open the page at the address that it was started with.",
        )
    if request.method in _LOOKING:
        return
    origin = request.headers.get("Origin")
    ours = {f"http://{host}" for host in hosts}
    site = request.headers.get("Sec-Fetch-Site", "same-origin")
    if (origin is not None and origin.lower() not in ours) or site not in ("same-origin", "none"):
        abort(403, "Another site's page sent this, so nothing was changed.")


def _check_who() -> AnyResponse | None:
    if on_this_machine(request):
        return None
    if not _settings().on_network:
        abort(403, "This page is for the machine that it runs on.")
    if request.endpoint in ("admission.ask", "admission.let_in", "static"):
        return None
    if not session.get(_ADMITTED):
        if request.method == "GET" and request.accept_mimetypes.accept_html:
            return redirect(url_for("admission.ask"))
        abort(
            401, "This device has not been let in. Open the page and type the code that the terminal shows."
        )
    if request.method not in _LOOKING and not may_change():
        abort(403, "This device may look, not change. Start the page with --may-change to let it.")
    return None


def _check_token() -> None:
    if request.method in _LOOKING:
        return
    given = request.headers.get(_TOKEN_HEADER) or request.form.get(_TOKEN, "")
    if not hmac.compare_digest(given.encode(), str(session.get(_TOKEN, "")).encode()) or not given:
        abort(
            403, "This page was opened before Rivetbook was started, so nothing was changed. Load it again."
        )


def _with_headers(response: Response) -> Response:
    for name, value in _HEADERS.items():
        response.headers[name] = value
    response.headers.setdefault("Cache-Control", "no-store")
    return response
