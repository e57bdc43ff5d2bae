"""What is known of a photo, in words, as every door tells it."""

from __future__ import annotations

from archive.records.clocks import camera_name
from archive.records.following import FROM_FILE
from archive.records.things import Photo


def facts_of(photo: Photo) -> list[tuple[str, str]]:
    """Return what is known of a photo, in words; what is unknown is left off."""
    facts = [
        ("Caption", photo.caption),
        ("Taken", photo.taken and photo.taken[:16].replace("T", " ")),
        ("Its clock", _clock(photo)),
        ("The camera wrote", photo.taken_as_read if photo.clock_ahead_s or not photo.taken else None),
        ("Size", f"{photo.width} × {photo.height} px" if photo.width and photo.height else None),
        ("Page", str(photo.page) if photo.page else None),
        ("Paper", _paper(photo)),
        ("Camera", camera_name(photo.make, photo.model)),
        ("Lens", photo.lens),
        ("Focal length", _focal_length(photo)),
        ("Place", _position(photo)),
        ("Height", _height(photo)),
        ("Pointing", _bearing(photo)),
        ("Keywords", ", ".join(photo.keywords)),
        ("Creator", photo.creator),
        ("Rights", photo.rights),
        ("File", photo.picture.stored_path),
        (
            "With it",
            ", ".join(o.stored_path.rpartition("/")[2] for o in photo.originals if o != photo.picture),
        ),
    ]
    return [(name, value) for name, value in facts if value]


def _focal_length(photo: Photo) -> str:
    told = [f"{photo.focal_mm:g} mm"] if photo.focal_mm else []
    told += [f"as {photo.focal_35mm:g} mm on 35 mm film"] if photo.focal_35mm else []
    zoomed = photo.digital_zoom is not None and photo.digital_zoom > 1
    told += [f"digital zoom {photo.digital_zoom:g} times"] if zoomed else []
    return ", ".join(told)


def _clock(photo: Photo) -> str | None:
    """How far the clock that gave the time was from UTC, and who says so."""
    if photo.taken is None or photo.clock_ahead_s is not None:
        return None
    if photo.utc_offset:
        return f"UTC{photo.utc_offset}, by the file"
    return f"UTC{photo.utc_offset_by_gps}, by satellite time" if photo.utc_offset_by_gps else None


def _height(photo: Photo) -> str | None:
    if photo.altitude_m is None:
        return None
    return f"{abs(photo.altitude_m):.0f} m {'below' if photo.altitude_m < 0 else 'above'} the sea"


def _bearing(photo: Photo) -> str | None:
    if photo.bearing_deg is None:
        return None
    north = {"T": " from true north", "M": " from magnetic north"}.get(photo.bearing_reference or "", "")
    return f"{photo.bearing_deg:.0f}°{north}"


def _paper(photo: Photo) -> str | None:
    if photo.paper_width_mm is None or photo.paper_height_mm is None:
        return None
    return f"{photo.paper_width_mm:.0f} × {photo.paper_height_mm:.0f} mm"


def _position(photo: Photo) -> str | None:
    if photo.latitude is None or photo.longitude is None:
        return None
    north, east = "N" if photo.latitude >= 0 else "S", "E" if photo.longitude >= 0 else "W"
    radius_m = photo.position_radius_m or 0
    places = 5 if radius_m < 10 else 4 if radius_m < 100 else 3  # a ten-thousandth of a degree is 11 m
    within = f", within {photo.position_radius_m:.0f} m" if photo.position_radius_m else ""
    by = f" (by the {photo.position_from})" if photo.position_from not in (None, FROM_FILE) else ""
    return f"{abs(photo.latitude):.{places}f}° {north}, {abs(photo.longitude):.{places}f}° {east}{within}{by}"
