"""What templates use to say dates, counts and sizes; sizes are rounded and phrased by `wording`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from flask import Flask, url_for
from markupsafe import Markup, escape

from archive import wording
from archive.records.clocks import Clock
from archive.records.setting_clocks import told_clock
from archive.records.things import Estimate, Region, Visit
from archive.scales import Scale
from archive.search.by_ratio import RatioFound

_DATE = re.compile(r"\d{4}-\d\d-\d\d")


def teach(app: Flask) -> None:
    """Give the templates their words."""
    app.jinja_env.filters.update(
        breakable=breakable,
        whole_dates=whole_dates,
        moment=moment,
        clock=clock,
        days=days,
        counted=counted,
        best_figure=best_figure,
        in_feet=in_feet,
        on_the_model=on_the_model,
        doubt_bar=doubt_bar,
        proportion=proportion,
        region_numbers=region_numbers,
        part_address=part_address,
        give_or_take=give_or_take,
        grade=wording.grade,
    )


def breakable(file: str) -> Markup:
    """Return a file's name that a narrow column may break after '_', not in the midst of its ending."""
    return Markup("_<wbr>").join(file.split("_"))


def whole_dates(text: str) -> Markup:
    """Return a text none of whose dates, as 2023-06-17, is broken after '-' at the end of a line."""
    return Markup(_DATE.sub(r'<span class="whole">\g<0></span>', str(escape(text))))


def moment(taken: str | None) -> str:
    """Return when a photo was taken, for people."""
    return taken[:16].replace("T", " ") if taken else "time unknown"


def clock(put_right: Clock) -> str:
    """Return how far a camera's clock was wrong, and from when to when where that is said."""
    when = (
        f", {moment(put_right.first_read)} to {moment(put_right.last_read)}" if put_right.first_read else ""
    )
    camera = put_right.camera or "The photos that name no camera"
    return f"{camera}{when}: {told_clock(put_right.ahead_s)}"


def days(visit: Visit) -> str:
    """Return the days of a visit."""
    if visit.first_day is None:
        return ""
    return (
        visit.first_day
        if visit.last_day in (None, visit.first_day)
        else f"{visit.first_day} to {visit.last_day}"
    )


def counted(number: int, one: str, many: str) -> str:
    """Return '1 photo', '3 photos'."""
    return f"1 {one}" if number == 1 else f"{number:,} {many}".replace(",", " ")


def best_figure(estimate: Estimate) -> str:
    """Return the value of an estimate with its doubt."""
    return wording.size(estimate.quantity, estimate.value, (estimate.low_95, estimate.high_95))


def in_feet(estimate: Estimate) -> str:
    """Return a length in feet and inches."""
    return wording.other_system(estimate.quantity, estimate.value, (estimate.low_95, estimate.high_95))


def on_the_model(estimate: Estimate, at: Scale) -> str:
    """Return a length as it is on a model of this scale, with its doubt."""
    return wording.model_size(estimate.value, (estimate.low_95, estimate.high_95), at)


def region_numbers(region: Region) -> str:
    """Return left, top, width and height of a region, px, as our scripts and addresses read them."""
    return f"{region.left_px},{region.top_px},{region.width_px},{region.height_px}"


def part_address(region: Region, photo_id: str) -> str:
    """Return the address of what a photo shows within a region."""
    return url_for(
        "photos.part",
        photo_id=photo_id,
        left=region.left_px,
        top=region.top_px,
        width=region.width_px,
        height=region.height_px,
    )


@dataclass(frozen=True, slots=True)
class DoubtPiece:
    """One cause of a size's doubt as a piece of a bar of 100: where it begins, how wide it is."""

    cause: str
    start: float
    width: float


def doubt_bar(causes: Sequence[tuple[str, float]]) -> list[DoubtPiece]:
    """Return the causes of a size's doubt as the pieces of a bar."""
    pieces, start = [], 0.0
    for cause, share in causes:
        pieces.append(DoubtPiece(cause, round(start, 2), round(100 * share, 2)))
        start += 100 * share
    return pieces


def proportion(found: RatioFound) -> str:
    """Return a proportion of two sizes with its doubt."""
    return wording.ratio(found.ratio, found.u_ratio)


def give_or_take(half_width: float, quantity: str) -> str:
    """Return half the width of a doubt, two figures of it."""
    return wording.doubt(quantity, half_width)
