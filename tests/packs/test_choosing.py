from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from archive.packs.choosing import VIEW_ORDER, choose_photos
from archive.packs.content import PackPhoto, PackSighting


def photo(name: str, *seen: tuple[str, str | None], pixels: int = 1000, mirrored: bool = False) -> PackPhoto:
    sightings = tuple(PackSighting(subject, view, mirrored) for subject, view in seen)
    return PackPhoto(name, name, Path(name), pixels, pixels, sightings)


def names(photos) -> list[str]:
    return [each.name for each in photos]


def test_photos_stand_by_subject_and_then_walk_round_it():
    photos = [
        photo("crane front", ("crane", "front")),
        photo("hut detail", ("hut", "detail")),
        photo("hut unsaid", ("hut", None)),
        photo("hut rear", ("hut", "rear")),
        photo("hut front", ("hut", "front")),
    ]

    chosen = choose_photos(photos, ["hut", "crane"])

    assert names(chosen) == ["hut front", "hut rear", "hut detail", "hut unsaid", "crane front"]


def test_the_best_of_a_view_shows_nothing_else_unmirrored_with_the_most_pixels():
    photos = [
        photo("both", ("hut", "front"), ("crane", "overview"), pixels=4000),
        photo("mirrored", ("hut", "front"), pixels=4000, mirrored=True),
        photo("small", ("hut", "front"), pixels=600),
        photo("large", ("hut", "front"), pixels=2000),
    ]

    assert names(choose_photos(photos, ["hut"])) == ["large", "small", "mirrored", "both"]


def test_of_very_many_every_view_is_kept_before_the_second_best_of_any():
    many = [photo(f"front {n:03}", ("hut", "front")) for n in range(100)]
    few = [photo("rear", ("hut", "rear")), photo("top", ("hut", "top"))]

    chosen = choose_photos([*many, *few], ["hut"], most=5)

    assert names(chosen) == ["front 000", "front 001", "front 002", "rear", "top"]


@given(
    st.lists(st.tuples(st.sampled_from(["hut", "crane"]), st.sampled_from([*VIEW_ORDER, None])), max_size=30),
    st.integers(1, 10),
)
def test_no_photo_comes_twice_and_as_many_as_may_be(seen, most):
    photos = [photo(f"{n}", sighting) for n, sighting in enumerate(seen)]

    chosen = choose_photos(photos, ["hut", "crane"], most)

    assert len(chosen) == len({each.name for each in chosen}) == min(most, len(photos))
    assert chosen == choose_photos([replace(each) for each in photos], ["hut", "crane"], most)
