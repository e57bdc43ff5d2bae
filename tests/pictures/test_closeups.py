"""A picture looked at closely: tiles of the whole, and of what can be had where the whole is too large."""

from __future__ import annotations

from pathlib import Path

import made_pictures as made
import numpy as np
import pytest

from archive.errors import PictureNotReadable
from archive.pictures import decode
from archive.pictures.closeup import TILE_PX, Closeup


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    file = tmp_path / "crane.jpg"
    file.write_bytes(made.jpeg_bytes(made.made_view(1, (1600, 1200)), quality=95))
    return file


def pixels_of(tile: bytes | None) -> np.ndarray:
    assert tile is not None
    return np.asarray(made.opened(tile).convert("L"), dtype=int)


def test_a_picture_too_large_to_be_held_whole_is_held_smaller_and_its_tiles_lie_where_they_did(
    photo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = Closeup(photo)
    # 1600 x 1200 pixels of 13 bytes are 25 MB; half the width and height, of 4 bytes, 2 MB.
    monkeypatch.setattr(decode, "MOST_WORKING_BYTES", 10 << 20)
    halved = Closeup(photo)

    assert halved.size_px == whole.size_px == (1600, 1200)
    for level, column, row in ((0, 0, 0), (0, 1, 2), (0, 3, 0), (1, 0, 1), (2, 0, 0)):
        one, other = (pixels_of(each.tile(level, column, row)) for each in (halved, whole))
        assert one.shape == other.shape
        assert max(one.shape) <= TILE_PX
        assert abs(one - other).mean() < 4  # they differ at edges, which the halved one shows less sharp
    assert halved.tile(0, 4, 0) is None


def test_one_too_large_at_any_size_is_refused(photo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(decode, "MOST_WORKING_BYTES", 1000)

    with pytest.raises(
        PictureNotReadable, match=r"crane\.jpg: the picture is far too large to decode safely"
    ):
        Closeup(photo)
