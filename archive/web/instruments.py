"""Instruments: what takes the readings, and checks of them against lengths known better."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from archive.dimensions.checking import check_instrument
from archive.dimensions.instruments import amend_instrument
from archive.metrology.instrument_kinds import instrument_kinds
from archive.records import checks, instruments
from archive.records.entering import enter_instrument
from archive.records.things import Instrument
from archive.web.archives import archive
from archive.web.forms import amended, text_of
from archive.web.saying import counted

page = Blueprint("instruments", __name__)

_STEADY = {"steady": True, "changing": False}


@page.get("/instruments")
def show() -> ResponseReturnValue:
    """List the instruments."""
    with archive().look() as look:
        tools = instruments.all_instruments(look)
        checked = checks.checks_by_instrument(look)
    return render_template(
        "instruments.html",
        instruments=tools,
        facts={tool.id: _as_written(tool) for tool in tools},
        checked=checked,
        kinds=list(instrument_kinds()),
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


@page.post("/instrument/<id:instrument_id>/amend")
def amend(instrument_id: str) -> ResponseReturnValue:
    """Put in other facts of an instrument; every size that it took is worked out anew."""
    with archive().look() as look:
        tool = instruments.instrument_named(look, instrument_id)
    facts = amended(_as_written(tool))
    if facts:
        steady = _STEADY.get(facts.pop("steady", ""))
        done = amend_instrument(archive(), tool.name, steady=steady, **facts)
        sizes = counted(len(done.sizes), "size that it took was", "sizes that it took were")
        flash(f"Amended the {tool.name}; {sizes} worked out anew.")
    return redirect(url_for("instruments.show"))


def _as_written(tool: Instrument) -> dict[str, str | None]:
    """The facts of an instrument as a form shows them."""
    return {
        "name": tool.name,
        "kind": tool.kind,
        "resolution": None if tool.resolution_mm is None else f"{tool.resolution_mm:g} mm",
        "limit": tool.limit_as_written,
        "steady": "steady" if tool.steady else "changing",
        "notes": tool.notes,
    }
