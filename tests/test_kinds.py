"""The thesaurus of kinds: its data hold together, words on both sides of the Atlantic lead to a kind."""

from __future__ import annotations

import pytest

from archive.errors import NotAccepted, SeveralMatch, UnknownKind
from archive.kinds import Kind, carried_kinds, thesaurus

VIEWS = {
    "front",
    "rear",
    "left side",
    "right side",
    "top",
    "underside",
    "three-quarter",
    "detail",
    "inside",
    "overview",
}
KINDS = thesaurus()


@pytest.mark.parametrize("kind", carried_kinds(), ids=lambda kind: kind.id)
def test_each_kind_holds_together(kind):
    assert kind.name
    assert set(kind.views) <= VIEWS
    assert kind.sides in (None, "viewer", "forward", "port and starboard")
    assert len(set(kind.sizes)) == len(kind.sizes)
    if kind.broader is None:
        assert kind.id == "thing"
    else:
        inherited = set(KINDS.sizes(kind.broader))
        assert set(kind.without) - {"*"} <= inherited, "what is taken away must be there"
    assert KINDS.views(kind)
    assert KINDS.find(kind.id) == kind
    assert KINDS.find(kind.name) == kind


def test_the_whole_thesaurus_hangs_together():
    assert len({kind.id for kind in carried_kinds()}) == len(carried_kinds()) == 98
    assert len(KINDS.narrower("thing")) == 97


@pytest.mark.parametrize(
    ("text", "kind_id"),
    [
        ("bollard", "bollard"),
        ("Bollards", "bollard"),
        ("mooring post", "bollard"),
        ("bitt", "bollard"),
        ("lorries", "lorry"),
        ("buses", "bus"),
        ("wharf", "quay"),
        ("wharves", "quay"),
        ("boxcar", "goods-van"),
        ("switchers", "shunter"),
        ("fork lift", "fork-lift"),
        ("FORK-LIFT", "fork-lift"),
        ("van", "van"),  # the name goes before the railway's synonym
    ],
)
def test_a_kind_is_found_by_any_of_its_words(text, kind_id):
    assert KINDS.find(text).id == kind_id


def test_a_word_that_names_different_things_by_trade_is_not_guessed():
    with pytest.raises(SeveralMatch) as several:
        KINDS.find("truck")
    assert set(several.value.matches) == {"lorry", "goods wagon", "bogie"}


@pytest.mark.parametrize(
    ("text", "near"), [("bolard", "bollard"), ("wheelbarow", "wheelbarrow"), ("lory", "lorry")]
)
def test_an_unknown_kind_suggests_near_ones(text, near):
    with pytest.raises(UnknownKind) as unknown:
        KINDS.find(text)
    assert near in unknown.value.near


@pytest.mark.parametrize("text", ["", "   ", "🚂", "\x00", "x" * 10_000])
def test_nonsense_is_unknown_and_said_briefly(text):
    with pytest.raises(UnknownKind) as unknown:
        KINDS.find(text)
    assert len(str(unknown.value)) < 300


def test_sizes_are_the_kinds_own_first_then_those_it_inherits():
    # By hand from the data: a rail vehicle takes the overall sizes of a thing away and has its own.
    assert KINDS.sizes("thing") == ("overall length", "overall width", "overall height")
    assert KINDS.sizes("rail-vehicle")[0] == "length over headstocks"
    assert "overall length" not in KINDS.sizes("rail-vehicle")
    assert "overall length" not in KINDS.sizes("locomotive")
    assert "length over headstocks" in KINDS.sizes("locomotive")
    assert KINDS.sizes("shunter")[:2] == ("bonnet height", "coupling rod length")
    assert "boiler diameter" in KINDS.sizes("locomotive")
    assert "boiler diameter" not in KINDS.sizes("shunter")


def test_a_star_takes_all_inherited_sizes_away():
    assert KINDS.sizes("bollard") == (
        "height",
        "head diameter",
        "waist diameter",
        "base diameter",
        "flange width",
    )


def test_sides_and_views_come_from_the_nearest_kind_that_says_so():
    assert KINDS.sides("tug") == "port and starboard"
    assert KINDS.sides("lorry") == "forward"
    assert KINDS.sides("hut") == "viewer"
    assert KINDS.views("bogie")[:4] == ("left side", "front", "top", "detail")
    assert set(KINDS.views("bogie")) >= set(KINDS.views("thing"))
    assert KINDS.views(None) == KINDS.views("thing")


def test_words_cross_the_atlantic_both_ways():
    assert {"lorry", "truck"} <= set(KINDS.words("lorry"))
    assert "vehicle" not in KINDS.words("lorry")
    assert "vehicle" in KINDS.words("lorry", with_broader=True)
    assert "thing" not in KINDS.words("lorry", with_broader=True)


def test_a_broader_kind_knows_all_that_is_below_it():
    below = {kind.id for kind in KINDS.narrower("rail-vehicle")}
    assert {"locomotive", "shunter", "goods-van"} <= below
    assert "rail-vehicle" not in below
    for kind in KINDS.narrower("rail-vehicle"):
        assert "rail-vehicle" in [above.id for above in KINDS.broader(kind)]


def test_a_kind_of_ones_own_needs_only_an_id_a_name_and_a_broader_kind():
    own = thesaurus([Kind("weighbridge-hut", "weigh house", "hut", sizes=("window sill height",))])

    assert own.find("weigh houses").id == "weighbridge-hut"
    assert own.sizes("weighbridge-hut") == ("window sill height", *KINDS.sizes("hut"))
    assert own.views("weighbridge-hut") == KINDS.views("hut")
    assert own.find("weigh house") in own.narrower("building")


def test_a_kind_of_ones_own_without_a_broader_one_is_a_thing():
    assert [kind.id for kind in thesaurus([Kind("oddity", "oddity", None)]).broader("oddity")] == ["thing"]


def test_kinds_in_a_circle_and_without_their_broader_kind_are_refused():
    with pytest.raises(NotAccepted, match="circle: a is a kind of b is a kind of a"):
        thesaurus([Kind("a", "a", "b"), Kind("b", "b", "a")])
    with pytest.raises(UnknownKind, match=r"'hutt'.*hut"):
        thesaurus([Kind("a", "a", "hutt")])
