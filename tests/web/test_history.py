"""Taking things back from the page."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from asking_pages import Ids, token_of
from flask.testing import FlaskClient

from archive.dimensions.undoing import undo
from archive.errors import ActNotFound
from archive.records import headlines, history, photos
from archive.records.archive import open_archive
from archive.records.entering import enter_visit


def offered(shown: str) -> str:
    """The number of the act that a page offers to take back."""
    found = re.search(r'id="newest">.*?name="act" value="(\d+)"', shown, re.DOTALL)
    assert found is not None
    return found[1]


def test_every_page_offers_the_last_act_and_taking_it_back_keeps_one_there(
    client: FlaskClient, send, ids: Ids, demo: Path
):
    address = f"/photo/{ids.photos['HC20_0412']}"
    send(f"{address}/link", subject="Quay lamp", view="rear")
    for page in ("/find", "/visits", "/subjects", "/history", "/bring-in", address):
        assert "Linked 1 photo to Quay lamp" in client.get(page).text

    after = send("/history/take-back", act=offered(client.get(address).text), **{"from": address})

    assert after.request.path == address
    assert "Took back: Linked 1 photo to Quay lamp (rear)." in after.text
    with open_archive(demo) as archive, archive.look() as look:
        assert [s.subject_name for s in photos.photo_named(look, "HC20_0412").sightings] == [
            "Weighbridge hut"
        ]


def test_where_the_page_went_with_the_act_the_history_is_shown(client: FlaskClient, send):
    made = send("/visits", name="A visit by mistake")
    address = made.request.path

    after = send("/history/take-back", act=offered(made.text), **{"from": address})

    assert after.request.path == "/history"
    assert client.get(address).status_code == 404


@pytest.mark.parametrize(
    "elsewhere", ["https://evil.example/", "//evil.example/", "/\\evil.example", "javascript:alert(1)", ""]
)
def test_taking_back_leads_to_no_other_site(client: FlaskClient, send, elsewhere: str):
    send("/visits", name="A visit by mistake")

    answer = client.post(
        "/history/take-back",
        data={"token": token_of(client), "act": offered(client.get("/find").text), "from": elsewhere},
    )

    assert answer.headers["Location"] == "/history"


def test_an_undo_can_be_restored_from_the_history(client: FlaskClient, send):
    made = send("/visits", name="A visit after all")
    act = offered(made.text)
    send("/history/take-back", act=act)
    newest = re.search(r'class="act-number">(\d+)<', client.get("/history").text)[1]

    send("/history/take-back", act=newest)

    assert "A visit after all" in client.get("/visits").text


def test_what_later_acts_lean_on_is_refused_and_named(client: FlaskClient, send, ids: Ids):
    made = send("/subjects", name="Toll house", kind="house")
    act = offered(made.text)
    send(f"/photo/{ids.photos['HC20_0412']}/link", subject="Toll house", view="rear")

    answer = send("/history/take-back", act=act)

    assert answer.status_code == 400
    assert "Linked 1 photo to Toll house" in answer.text
    assert f"beginning with act {int(act) + 1}." in answer.text


def test_no_refusal_names_a_command_to_somebody_who_has_buttons(send):
    act = offered(send("/visits", name="A visit by mistake").text)
    send("/history/take-back", act=act)

    for answer, said in (
        (send("/history/take-back", act=act), f"taking back act {int(act) + 1} restores it"),
        (send("/history/take-back", act="99999"), "The history shows what was done"),
        (send("/subjects", name="Gate", kind="xyzzy"), "There is no kind called &#39;xyzzy&#39;"),
        (send("/visits", name="Gate", zone="Mars/Base"), "There is no time zone"),
    ):
        assert answer.status_code == 400
        assert said in answer.text
        assert "rivetbook " not in answer.text


def test_a_caption_is_amended_and_what_was_left_alone_is_not(client: FlaskClient, send, ids: Ids):
    address = f"/photo/{ids.photos['HC20_0416']}"
    assert "crane gear, landward side" in client.get(address).text

    send(f"{address}/amend", caption="Crane gear <seen> from the land", creator="", rights="")

    assert "Crane gear &lt;seen&gt; from the land" in client.get(address).text
    before = offered(client.get(address).text)
    send(f"{address}/amend", caption="Crane gear <seen> from the land")
    assert offered(client.get(address).text) == before, "nothing was changed, so nothing was written"


def test_the_headlines_tell_what_the_whole_history_tells(demo: Path):
    with open_archive(demo) as archive:
        for name in ("one", "two", "three"):
            archive.begin_act()
            enter_visit(archive, name)
        undo(archive)
        undo(archive)
        with archive.look() as look:
            newest = history.all_acts(look)[0].number
        undo(archive, newest)
        with archive.look() as look:
            every = history.all_acts(look)

            assert headlines.newest_acts(look, most=len(every) + 5) == every
            assert headlines.newest_acts(look, most=3, before=every[3].number) == every[4:7]
            assert headlines.act_to_offer(look) == history.act_to_take_back(look, None)


def test_a_new_archive_offers_nothing(tmp_path: Path):
    from archive.records.folder import make_archive

    make_archive(tmp_path / "new")
    with open_archive(tmp_path / "new") as archive, archive.look() as look:
        assert headlines.act_to_offer(look) is None
        with pytest.raises(ActNotFound):
            history.act_to_take_back(look, None)
