"""A size from how far away it was, square to the view.

[HZ] Hartley & Zisserman, Multiple View Geometry in Computer Vision, 2nd ed., Cambridge 2004.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from archive.errors import MarksNotUsable
from archive.metrology.sources import Doubtful
from archive.photogrammetry import checks
from archive.photogrammetry.doubt import Derived, carry, derived
from archive.photogrammetry.lens import straight_edge_cautions
from archive.photogrammetry.marks import IN_THE_PLANE, PLAIN_SHOT, Array, Lies, Mark, Shot


def size_by_distance(
    target: Sequence[Mark], distance: Doubtful, lies: Lies = IN_THE_PLANE, shot: Shot = PLAIN_SHOT
) -> Derived:
    """The length between two marks on a thing square to the view, from its distance and the focal length.

    Parameters
    ----------
    target : two marks
        The ends of the asked size, near the middle of the picture.
    distance : Doubtful
        From the lens to the plane of the thing, mm, square to that plane and not along a slanted ray.
    lies : Lies
        How far the size stands towards the camera from that plane, mm.
    shot : Shot
        With a camera.

    Returns
    -------
    Derived
        Length in mm; good for 2 to 4 %.

    Raises
    ------
    MarksNotUsable
        'degenerate-points', 'bad-known', 'bad-focal', 'bad-offset', 'doubt-too-large'.

    Notes
    -----
    Similar triangles of the pinhole camera [HZ 6.1]: size = distance x pixels / focal length.
    """
    camera = checks.known_camera(shot.camera, "without it a distance gives no size")
    checks.known_length(distance, "known distance")
    checks.asked_pair(target)
    checks.usable_doubt(lies.towards_camera, "set-back")
    if lies.towards_camera.value >= distance.value:
        raise MarksNotUsable(
            "bad-offset",
            "The size is said to stand out as far as the camera or further; check how far it stands out.",
        )

    def solve(px: Array, numbers: Array) -> Array:
        span = np.hypot(*(px[:, 0] - px[:, 1]).T)
        size: Array = (numbers[:, 0] - numbers[:, 2]) * span / numbers[:, 1]
        return size

    solved = carry(solve, target, (distance, camera.focal_px, lies.towards_camera), shot, target=target)
    return derived(solved, lies, {}, straight_edge_cautions(shot))
