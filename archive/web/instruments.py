"""Instruments: what takes the readings, and checks of them against lengths known better."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from archive.dimensions.checking import check_instrument
from archive.metrology.instrument_kinds import instrument_kinds
from archive.records import checks, instruments
from archive.records.entering import enter_instrument
from archive.web.archives import archive
from archive.web.forms import text_of

page = Blueprint("instruments", __name__)

_STEADY = {"steady": True, "changing": False}


@page.get("/instruments")
def show() -> ResponseReturnValue:
    """List the instruments."""
    with archive().look() as look:
        tools = instruments.all_instruments(look)
        checked = checks.checks_by_instrument(look)
    return render_template(
        "instruments.html", instruments=tools, checked=checked, kinds=list(instrument_kinds())
    )


@page.post("/instruments")
def add() -> ResponseReturnValue:
    """Add an instrument."""
    made = enter_instrument(
        archive(),
        text_of("name") or "",
        kind=text_of("kind"),
        resolution=text_of("resolution"),
        limit=text_of("limit"),
        steady=_STEADY.get(text_of("steady") or ""),
        notes=text_of("notes"),
    )
    flash(f"Added the instrument {made.name}.")
    return redirect(url_for("instruments.show"))


@page.post("/instrument/<id:instrument_id>/check")
def check(instrument_id: str) -> ResponseReturnValue:
    """Write down one check; every size that the instrument took is worked out anew."""
    with archive().look() as look:
        tool = instruments.instrument_named(look, instrument_id)
    noted = check_instrument(
        archive(),
        tool.name,
        reference=text_of("reference") or "",
        reading=text_of("reading") or "",
        on=text_of("on"),
    )
    flash(f"Checked the {tool.name}; {len(noted.sizes)} sizes that it took were worked out anew.")
    return redirect(url_for("instruments.show"))
