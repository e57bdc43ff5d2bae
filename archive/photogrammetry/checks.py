"""What marks and known sizes must be before any sum is tried; each refusal names the marks and the remedy.

Marks are judged by what they can tell apart: within `TELL_APART` of their own sigma, two marks are one
and three are on a line.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from math import isfinite

import numpy as np

from archive.errors import MarksNotUsable
from archive.metrology.sources import Doubtful
from archive.photogrammetry.marks import Array, Camera, Mark, coordinates, sigmas

TELL_APART = 5.0
LARGEST_RELATIVE_U = 0.25


def named(marks: Sequence[Mark]) -> str:
    """Marks as words: "'a', 'b' and 'c'"."""
    words = [f"'{mark.name}'" for mark in marks]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def finite_marks(marks: Sequence[Mark]) -> None:
    """Refuse marks that are nowhere or whose doubt is not a positive number."""
    for mark in marks:
        if not (isfinite(mark.x_px) and isfinite(mark.y_px)):
            raise MarksNotUsable("bad-input", f"Mark '{mark.name}' has no place on the photo; mark it again.")
        if not (isfinite(mark.sigma_px) and mark.sigma_px > 0):
            raise MarksNotUsable(
                "bad-uncertainty",
                f"The doubt of mark '{mark.name}' must be more than 0 px; say crisp, plain or worn.",
            )


def known_length(size: Doubtful, what: str) -> None:
    """Refuse a known size that is not a length, or that says no more than its own doubt."""
    if not isfinite(size.value) or size.value <= 0:
        raise MarksNotUsable(
            "bad-known",
            f"The {what} must be a length of more than 0 mm; measure it or take another known size.",
        )
    usable_doubt(size, what)
    if size.standard_uncertainty > LARGEST_RELATIVE_U * size.value:
        raise MarksNotUsable(
            "doubt-too-large",
            f"The doubt of the {what} is more than a quarter of it; use a longer size or one better known.",
        )


def usable_doubt(number: Doubtful, what: str) -> None:
    """Refuse a doubt that is negative or no number."""
    if not all(isfinite(s) for s in number.sensitivities.values()):
        raise MarksNotUsable("bad-uncertainty", f"The doubt of the {what} is not a number; state it again.")


def known_camera(camera: Camera | None, why: str) -> Camera:
    """Refuse to go on without a focal length."""
    if camera is None:
        raise MarksNotUsable(
            "bad-focal",
            f"The focal length is not known, and {why}. Give it, find it from two directions at a right angle, "
            f"or mark a rectangle of which both sides are known.",
        )
    f, *_ = camera.numbers
    if not isfinite(f.value) or f.value <= 0 or f.standard_uncertainty >= f.value:
        raise MarksNotUsable(
            "bad-focal",
            "The focal length must be more than 0 px and better known than its own size (0 in a photo's data means "
            "unknown); find it from two directions at a right angle instead.",
        )
    for number in camera.numbers:
        usable_doubt(number, "camera")
        if number.standard_uncertainty >= f.value:
            raise MarksNotUsable(
                "bad-uncertainty",
                "The middle of the picture is in more doubt than the focal length is long; state its doubt again.",
            )
    if not all(isfinite(number.value) for number in camera.numbers):
        raise MarksNotUsable("bad-focal", "The middle of the picture is not known; give its pixel size.")
    return camera


def enough(marks: Sequence[Mark], least: int, what: str) -> None:
    """Refuse fewer than `least` marks."""
    if len(marks) < least:
        raise MarksNotUsable(
            "too-few-points",
            f"There are {len(marks)} marks for {what} where at least {least} are needed; "
            f"mark {least - len(marks)} more.",
        )


def apart(marks: Sequence[Mark], what: str, instead: str = "mark places further apart") -> None:
    """Refuse two marks that cannot be told apart."""
    px, sigma = coordinates(marks), sigmas(marks)
    for i, j in combinations(range(len(marks)), 2):
        if np.hypot(*(px[i] - px[j])) <= TELL_APART * max(sigma[i], sigma[j]):
            raise MarksNotUsable(
                "degenerate-points",
                f"In {what}, marks {named([marks[i], marks[j]])} are at the same place as far as they can tell; "
                f"{instead}.",
            )


def triangle_height(p: Array) -> Array:
    """Least distance of one corner of each triangle from the line through the other two; p (..., 3, 2) -> (...)."""
    edges = p - np.roll(p, 1, axis=-2)
    area2 = np.abs(edges[..., 0, 0] * edges[..., 1, 1] - edges[..., 0, 1] * edges[..., 1, 0])
    longest = np.hypot(edges[..., 0], edges[..., 1]).max(axis=-1)
    height: Array = np.divide(area2, longest, out=np.zeros_like(area2), where=longest > 0)
    return height


def no_three_in_line(marks: Sequence[Mark], what: str) -> None:
    """Refuse four marks of which three lie on one line as far as they can tell."""
    px, sigma = coordinates(marks), sigmas(marks)
    for three in combinations(range(len(marks)), 3):
        chosen = list(three)
        if triangle_height(px[chosen]) <= TELL_APART * sigma[chosen].max():
            raise MarksNotUsable(
                "degenerate-points",
                f"In {what}, marks {named([marks[i] for i in chosen])} lie on one line as far as they can tell; "
                f"mark four corners of which no three are in line.",
            )


def some_four_in_general(marks: Sequence[Mark], world_mm: Array) -> None:
    """Refuse more than four known points among which no four have no three in line, on the photo and in the plane."""
    px, sigma = coordinates(marks), sigmas(marks)
    reach = np.ptp(world_mm, axis=0).max()
    triples = np.array(list(combinations(range(4), 3)))
    for chunk in _chunks(combinations(range(len(marks)), 4), 5000):
        fours = np.array(chunk)[:, triples]
        clear = triangle_height(px[fours]) > TELL_APART * sigma[fours].max(axis=-1)
        clear &= triangle_height(world_mm[fours]) > 1e-6 * reach
        if clear.all(axis=1).any():
            return
    raise MarksNotUsable(
        "degenerate-points",
        f"Among the known points {named(marks)} there are no four of which no three lie on one line, and such points "
        f"do not fix a plane; mark known points on either side of that line.",
    )


def _chunks(combos: combinations[tuple[int, ...]], size: int) -> list[list[tuple[int, ...]]]:
    everything = list(combos)
    return [everything[i : i + size] for i in range(0, len(everything), size)]


def ring_order(marks: Sequence[Mark], what: str) -> None:
    """Refuse four corners whose outline crosses itself or has a corner pushed in."""
    px = coordinates(marks)
    edges = np.roll(px, -1, axis=0) - px
    following = np.roll(edges, -1, axis=0)
    turns = edges[:, 0] * following[:, 1] - edges[:, 1] * following[:, 0]
    if not (np.all(turns > 0) or np.all(turns < 0)):
        raise MarksNotUsable(
            "corner-order",
            f"The outline through the corners of {what}, {named(marks)}, crosses itself or has a corner pushed in; "
            f"name the corners in the order in which one walks round it.",
        )


def four_corners(marks: Sequence[Mark], what: str = "the rectangle") -> None:
    """Refuse marks that cannot be the four corners of a rectangle, in ring order."""
    enough(marks, 4, f"the corners of {what}")
    if len(marks) > 4:
        raise MarksNotUsable("bad-input", f"{what.capitalize()} has four corners; mark just those.")
    finite_marks(marks)
    apart(marks, what)
    no_three_in_line(marks, what)
    ring_order(marks, what)


def asked_pair(target: Sequence[Mark]) -> None:
    """Refuse an asked size whose two ends cannot be told apart."""
    if len(target) != 2:
        raise MarksNotUsable("too-few-points", "A size is asked between two marks; name exactly two.")
    finite_marks(target)
    apart(target, "the asked size", "mark its two ends")


def edge_pairs(edges: Sequence[Sequence[Mark]], least: int, what: str) -> None:
    """Refuse edges that are not pairs of separate marks, or that are all one line."""
    if len(edges) < least:
        raise MarksNotUsable(
            "too-few-points", f"There are {len(edges)} {what} where at least {least} are needed; mark more."
        )
    for edge in edges:
        if len(edge) != 2:
            raise MarksNotUsable(
                "too-few-points", f"Each of the {what} needs two marks, one near either end."
            )
        finite_marks(edge)
        apart(edge, f"one of the {what}", "mark its two ends")
    for first, second in combinations(edges, 2):
        if not (_on_line(second, first) or _on_line(first, second)):
            return
    if least > 1:
        raise MarksNotUsable(
            "degenerate-points",
            f"The {what} {named([m for edge in edges for m in edge])} are all the same line as far as the marks can "
            f"tell; mark edges that lie well apart.",
        )


def _on_line(marks: Sequence[Mark], line: Sequence[Mark]) -> bool:
    distance = np.abs(off_line(coordinates(marks), *coordinates(line)))
    sigma = np.maximum(sigmas(marks), sigmas(line).max())
    return bool(np.all(distance <= TELL_APART * sigma))


def off_line(px: Array, first: Array, second: Array) -> Array:
    """Signed distance of points (N, 2) from the line through two points, px."""
    along = (second - first) / np.hypot(*(second - first))
    away = px - first
    distance: Array = along[0] * away[:, 1] - along[1] * away[:, 0]
    return distance
