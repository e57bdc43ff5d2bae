"""The pages over the demo archive, without a browser: what is shown, and what a form changes."""

from __future__ import annotations

import io
import re
import shutil
import sqlite3
import subprocess
import sys
import threading
from html import unescape
from pathlib import Path

import pytest
from asking_pages import PORT, Ids, browser, changes_in, token_of
from flask import Flask
from flask.testing import FlaskClient
from made_pictures import exif_block, jpeg_bytes, upright_scene, with_exif
from PIL import Image

from archive.dimensions.overview import sizes_of
from archive.dimensions.putting_right import amend_subject
from archive.dimensions.undoing import undo
from archive.ingest.importing import import_files
from archive.records import instruments, photos, subjects, visits
from archive.records.archive import open_archive
from archive.records.entering import enter_visit
from archive.web import close_app, create_app, saying
from archive.web.settings import PageSettings


def newest_act(client: FlaskClient) -> str:
    """The number at the top of the history."""
    return re.search(r'class="act-number">(\d+)<', client.get("/history").text)[1]


def test_words_and_a_size_find_what_the_command_line_finds(client: FlaskClient):
    shown = client.get("/find", query_string={"words": "crane", "size": "post height 2.5 to 3 m"}).text

    # 9ft 0in, noted at the crane, is 2743.2 mm.
    assert "Wharf crane" in shown
    assert "2743" in shown
    assert "very likely" in shown


def test_before_anything_is_asked_the_newest_things_and_visits_are_there_to_look_at(client: FlaskClient):
    shown = client.get("/find").text

    # The demo adds its subjects in this order reversed; its visits are of June 2023 and September 2024.
    names = ("Sack truck", "Quay lamp", "Quay bollard", "Wharf crane", "Weighbridge hut", "Wendle Basin, September", "Wendle Basin, June")  # fmt: skip
    at = [shown.index(f'<span class="name">{name}</span>') for name in names]
    assert at == sorted(at)
    assert "Latest visits" not in client.get("/find/answer?words=crane").text


def test_the_first_page_reads_the_visits_once(client: FlaskClient, monkeypatch: pytest.MonkeyPatch):
    read: list[None] = []
    every = visits.all_visits
    monkeypatch.setattr(visits, "all_visits", lambda look: read.append(None) or every(look))

    assert "Latest visits" in client.get("/find").text
    assert len(read) == 1


def test_a_condition_that_cannot_be_read_is_explained_and_the_form_stays(client: FlaskClient):
    shown = client.get("/find", query_string={"words": "crane", "size": "height 3 furlongs"}).text

    assert "furlongs" in shown
    assert 'value="crane"' in shown


def test_a_visit_lists_its_photos_in_order_of_time(client: FlaskClient, ids: Ids):
    shown = client.get(f"/visit/{ids.visits['Wendle Basin, June']}").text

    at = [
        shown.index(f"{name}.jpg")
        for name in ("P5_20230617_101204", "P5_20230617_101431", "P5_20230617_104706")
    ]
    assert at == sorted(at)
    assert "18 photos" in shown


def test_a_run_is_linked_at_once_with_one_line_of_history(client: FlaskClient, ids: Ids, demo: Path):
    before = changes_in(demo)
    run = [ids.photos[name] for name in ("P5_20230617_102102", "P5_20230617_102140", "P5_20230617_102233")]

    answer = client.post(
        "/link",
        json={"photos": run, "subject": "Quay lamp", "view": "left side"},
        headers={"X-Rivetbook-Token": token_of(client)},
    )

    assert answer.json["linked"] == 3
    assert answer.json["shows"][run[0]][0] == "Quay lamp, left side"
    assert changes_in(demo) == before + 1


def test_an_unknown_subject_links_nothing_and_near_names_are_offered(
    client: FlaskClient, ids: Ids, demo: Path
):
    before = changes_in(demo)

    answer = client.post(
        "/link",
        json={"photos": [ids.photos["HC20_0412"]], "subject": "Warf crane"},
        headers={"X-Rivetbook-Token": token_of(client), "Accept": "application/json"},
    )

    assert answer.status_code == 404
    assert "Wharf crane" in answer.json["error"]
    assert changes_in(demo) == before


def test_several_sizes_are_written_down_at_once_and_one_wrong_line_comes_back(send, ids: Ids, demo: Path):
    answer = send(
        f"/subject/{ids.subjects['Quay lamp']}/sizes",
        label=["column height", "lantern width", "lantern height"],
        written=["11ft 2in", "a good yard", "0.61 m"],
        span=["plain", "plain", "over"],
    )

    assert answer.status_code == 422
    assert 'value="a good yard"' in answer.text
    with open_archive(demo) as archive:
        known = {line.dimension.label: line.estimate for line in sizes_of(archive, "Quay lamp").lines}
    # By definition of the foot: 11 x 304.8 + 2 x 25.4.
    assert known["column height"].value == pytest.approx(3403.6)
    assert known["lantern height"].value == pytest.approx(610.0)
    assert "lantern width" not in known


def test_the_lines_of_one_form_are_one_act(send, ids: Ids, demo: Path):
    send(
        f"/subject/{ids.subjects['Quay lamp']}/sizes",
        label=["a height", "b height"],
        written=["1 m", "2 m"],
        span=["plain"] * 2,
    )

    with sqlite3.connect(demo / "archive.db") as database:
        acts = [act for (act,) in database.execute("SELECT act FROM change ORDER BY number DESC LIMIT 2")]
    database.close()
    assert acts[0] == acts[1]


@pytest.mark.parametrize(
    ("grade", "unsaid"),
    [
        ("guessed", "what the guess rests on"),
        ("published", "where the figure is published"),
        ("from a sister", "whose size this is"),
    ],
)
def test_what_a_size_that_was_not_measured_rests_on_must_be_said(
    send, ids: Ids, demo: Path, grade: str, unsaid: str
):
    before = changes_in(demo)
    answer = send(
        f"/subject/{ids.subjects['Quay lamp']}/sizes",
        label="post height", written="9ft", lines="cap height = 1ft", grade=grade, rests_on="  ",
    )  # fmt: skip

    assert answer.status_code == 422
    assert answer.text.count(f"It was not said {unsaid}") == 2
    assert changes_in(demo) == before


def test_a_size_is_shown_at_the_scale_asked_for_and_the_scale_is_remembered(client: FlaskClient, ids: Ids):
    hut = f"/subject/{ids.subjects['Weighbridge hut']}"

    # By hand: 695 mm / 43.5 = 15.977 mm.
    assert "15.977 mm" in client.get(hut, query_string={"scale": "1:43.5"}).text
    assert "15.977 mm" in client.get(hut).text
    assert "was not understood as a scale" in client.get(hut, query_string={"scale": "one to many"}).text


def test_what_is_being_typed_is_read_back(client: FlaskClient):
    answer = client.get("/read-size", query_string={"label": "door height", "written": "4ft 8½in"})

    assert answer.json["understood"] == "1435.1 mm, 4 ft 8½ in"
    assert "'abc'" in client.get("/read-size?written=abc").json["wrong"]


def test_views_that_are_missing_are_named(client: FlaskClient, ids: Ids):
    shown = client.get(f"/subject/{ids.subjects['Wharf crane']}").text

    # Of the views worth taking of a crane, the demo notes none of these three.
    lacking = re.findall(r'no photo yet</span><span class="name">([^<]+)<', shown)
    assert lacking == ["left side", "front", "top"]


def test_sizes_stand_by_part_the_whole_first_and_what_is_alone_last(client: FlaskClient, ids: Ids):
    shown = client.get(f"/subject/{ids.subjects['Weighbridge hut']}").text

    parts = [
        (heading, re.findall(r'<th scope="row" role="rowheader">([^<]+?)\s*<', rest))
        for heading, rest in re.findall(r'scope="rowgroup"[^>]*>([^<]+)</th>(.*?)</tbody>', shown, re.DOTALL)
    ]
    assert parts == [
        ("the whole", ["length over walls", "width over walls"]),
        ("door", ["door width", "door height"]),
        ("window", ["window width", "window height"]),
        (
            "other parts",
            ["plank width", "lintel length", "sill length", "step width", "wall height above plinth"],
        ),
    ]


def test_the_picture_of_a_doubt_has_a_piece_for_each_cause_as_wide_as_its_share():
    bar = saying.doubt_bar(
        (("rounding of the reading", 0.75), ("the tape's offset", 0.2), ("the rest", 0.05))
    )

    assert [(piece.start, piece.width) for piece in bar] == [(0, 75), (75, 20), (95, 5)]


def test_many_lines_are_written_down_in_one_go_or_come_back_whole(send, ids: Ids, demo: Path):
    address = f"/subject/{ids.subjects['Quay lamp']}"
    lines = "column height = 11ft 2in\nwith: phone\nlantern width = a good yard\n"

    answer = send(f"{address}/sizes", lines=lines, instrument="long tape")
    assert answer.status_code == 422
    assert "line 3, &#39;lantern width = a good yard&#39;" in answer.text
    assert lines in answer.text
    with open_archive(demo) as archive:
        assert "column height" not in {line.dimension.label for line in sizes_of(archive, "Quay lamp").lines}

    answer = send(f"{address}/sizes", lines=lines.replace("a good yard", "0.39 m"), instrument="long tape")
    assert "Wrote down column height 11ft 2in, lantern width 0.39 m." in answer.text
    with open_archive(demo) as archive:
        known = {line.dimension.label: line for line in sizes_of(archive, "Quay lamp").lines}
    # By definition of the foot: 11 x 304.8 + 2 x 25.4.
    assert known["column height"].estimate.value == pytest.approx(3403.6)
    with_what = [known[label].readings[0].instrument for label in ("column height", "lantern width")]
    assert with_what == ["long tape", "phone"]


def test_lines_to_fill_in_are_the_sizes_of_its_kind_that_are_not_known(client: FlaskClient, send, ids: Ids):
    address = f"/subject/{ids.subjects['Weighbridge hut']}"
    lines = re.search(r'<textarea id="lines"[^>]*>(.*?)</textarea>', client.get(address).text, re.DOTALL)[1]
    assert "eaves height =" in lines
    assert "door width" not in lines

    before = newest_act(client)
    send(f"{address}/sizes", lines=lines)
    assert newest_act(client) == before, "lines left empty are nothing to write down"


def test_a_picture_comes_small_and_screen_sized_and_in_tiles(client: FlaskClient, ids: Ids, demo: Path):
    photo = ids.photos["HC20_0412"]
    with open_archive(demo) as archive, archive.look() as look:
        facts = photos.photo_named(look, photo)
        original = Image.open(demo.joinpath(*facts.picture.stored_path.split("/"))).convert("RGB")

    small = Image.open(io.BytesIO(client.get(f"/photo/{photo}/small.jpg").data))
    screen = Image.open(io.BytesIO(client.get(f"/photo/{photo}/screen.jpg").data))
    tile = Image.open(io.BytesIO(client.get(f"/photo/{photo}/tile/0/1/1.jpg").data))

    assert max(small.size) == 512
    assert max(screen.size) == min(2048, max(original.size))
    assert tile.size == (min(512, original.width - 512), min(512, original.height - 512))
    there = original.getpixel((512 + 40, 512 + 40))
    assert all(abs(a - b) < 24 for a, b in zip(tile.getpixel((40, 40)), there, strict=True))
    assert client.get(f"/photo/{photo}/tile/0/99/0.jpg").status_code == 404
    assert client.get(f"/photo/{photo}/tile/40/0/0.jpg").status_code == 404


def test_a_photo_leads_to_the_next_of_its_visit(client: FlaskClient, ids: Ids):
    shown = client.get(f"/photo/{ids.photos['P5_20230617_101431']}").text

    assert f'rel="prev" href="/photo/{ids.photos["P5_20230617_101204"]}"' in shown
    assert f'rel="next" href="/photo/{ids.photos["P5_20230617_101510"]}"' in shown


def test_an_archive_that_cannot_be_written_is_looked_at_and_says_so(
    demo: Path, monkeypatch: pytest.MonkeyPatch
):
    from archive.records import folder as folders

    monkeypatch.setattr(folders, "can_be_written", lambda _folder: False)  # as on a read-only disk
    app = create_app(PageSettings(demo, PORT))
    client = browser(app)

    assert "not change anything" in client.get("/visits").text
    answer = client.post("/visits", data={"token": token_of(client), "name": "New"})
    assert answer.status_code == 403
    assert "cannot be written" in answer.text
    close_app(app)


def test_the_page_and_the_command_line_write_at_once_and_lose_nothing(app: Flask, demo: Path):
    client = browser(app)
    token, before = token_of(client), changes_in(demo)

    def by_hand() -> None:
        with open_archive(demo, door="command line") as archive:
            for n in range(10):
                archive.begin_act()
                enter_visit(archive, f"by hand {n}")

    other = threading.Thread(target=by_hand)
    other.start()
    answers = [
        client.post("/visits", data={"token": token, "name": f"by page {n}"}).status_code for n in range(10)
    ]
    other.join()

    assert answers == [302] * 10
    assert changes_in(demo) == before + 20


def test_a_bug_is_told_in_a_sentence_and_not_as_a_traceback(
    demo: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    monkeypatch.setattr("archive.records.visits.all_places", lambda _look: 1 / 0)
    app = create_app(PageSettings(demo, PORT))

    answer = browser(app).get("/visits")

    assert answer.status_code == 500
    assert "a mistake of its own" in answer.text
    assert "ZeroDivisionError" not in answer.text
    assert "ZeroDivisionError" in next(tmp_path.glob("rivetbook-fault-*")).read_text()
    close_app(app)


def test_other_commands_do_not_wait_for_flask():
    probe = "import sys, archive.cli, archive.cli.find, archive.cli.page; print([m for m in ('flask', 'waitress', 'segno') if m in sys.modules])"

    assert (
        subprocess.run(
            [sys.executable, "-c", probe], capture_output=True, text=True, check=True
        ).stdout.strip()
        == "[]"
    )


def test_a_copy_of_an_archive_with_no_previews_makes_them_anew(client: FlaskClient, ids: Ids, demo: Path):
    shutil.rmtree(demo / "previews")

    assert client.get(f"/photo/{ids.photos['HC20_0412']}/small.jpg").status_code == 200


def test_a_check_of_an_instrument_moves_the_sizes_that_it_took(client: FlaskClient, send, demo: Path):
    with open_archive(demo) as archive:
        before = sizes_of(archive, "Weighbridge hut").lines
        with archive.look() as look:
            phone = instruments.instrument_named(look, "phone")
    # The phone reads 30 mm too much of 1.8 m, that day: what it took is corrected towards less.
    send(f"/instrument/{phone.id}/check", reference="1800 mm ± 1 mm", reading="1.83 m", on="2024-09-08")

    assert "checked 1 time" in client.get("/instruments").text
    with open_archive(demo) as archive:
        after = sizes_of(archive, "Weighbridge hut").lines
    height = [
        {line.dimension.label: line.estimate for line in lines}["door height"].value
        for lines in (before, after)
    ]
    assert height[1] < height[0] - 10


def test_an_instrument_is_added_and_writes_sizes_down(send, ids: Ids, demo: Path):
    send("/instruments", name="folding rule", kind="rule", resolution="1 mm", limit="1 mm")
    answer = send(
        f"/subject/{ids.subjects['Quay lamp']}/sizes",
        label=["column height"],
        written=["3.4 m"],
        instrument="folding rule",
    )

    assert answer.status_code == 200
    assert "3.4 m" in answer.text
    assert "folding rule" in answer.text


def test_a_guess_says_so(send, ids: Ids, demo: Path):
    send(
        f"/subject/{ids.subjects['Quay lamp']}/sizes",
        label=["column height"],
        written=["3.4 m"],
        grade="guessed",
        rests_on="a man beside it",
    )

    with open_archive(demo) as archive:
        known = {line.dimension.label: line for line in sizes_of(archive, "Quay lamp").lines}["column height"]
    assert known.estimate.grade == "guessed"
    assert known.readings[0].rests_on == "a man beside it"


@pytest.mark.parametrize(
    ("question", "found"),
    [
        ({"taken": "June 2023", "words": "hut"}, True),
        ({"taken": "1999", "words": "hut"}, False),
        ({"unlinked": "1", "words": "hut"}, False),
        ({"has": "door width"}, True),
        ({"has": "jib length"}, False),
    ],
)
def test_time_known_sizes_and_loose_photos_are_conditions_too(
    client: FlaskClient, question: dict[str, str], found: bool
):
    assert ("Weighbridge hut" in client.get("/find/answer", query_string=question).text) is found


def test_a_size_on_the_model_and_a_proportion_are_conditions_too(client: FlaskClient):
    # By hand: the crane's post is 2743.2 mm high, 63.062 mm at 1:43.5; the bollard is far smaller.
    on_the_model = client.get(
        "/find/answer", query_string={"model-size": "post height 62 to 64 mm", "at": "1:43.5"}
    ).text
    assert "Wharf crane" in on_the_model
    assert "63.06" in on_the_model
    assert "Quay bollard" not in on_the_model

    # The hut's walls are 2734 mm long and 2276.5 mm wide: 1.2 to 1.
    proportion = {"ratio": "length over walls to width over walls about 1.2 to 1"}
    in_proportion = client.get("/find/answer", query_string=proportion).text
    assert "Weighbridge hut" in in_proportion
    assert "1.201" in in_proportion


def test_a_size_that_it_has_not_is_asked_for_no_more_until_asked_again(client: FlaskClient, send, ids: Ids):
    address = f"/subject/{ids.subjects['Weighbridge hut']}"
    missing = re.findall(r"<strong>([^<]+)</strong> missing", client.get(address).text)
    assert missing  # the kind of a hut asks for more than was measured

    after = send(f"{address}/wanted", label=missing[0], decision="it has none").text
    assert f"Weighbridge hut has no &#39;{missing[0]}&#39;" in after
    assert missing[0] not in re.findall(r"<strong>([^<]+)</strong> missing", after)

    again = send(f"{address}/wanted", label=missing[0], decision="ask again").text
    assert missing[0] in re.findall(r"<strong>([^<]+)</strong> missing", again)
    assert "Decided what sizes of Weighbridge hut are wanted" in client.get("/history").text


def test_a_sum_says_how_it_comes_out_and_is_taken_out_again(client: FlaskClient, send, ids: Ids):
    address = f"/subject/{ids.subjects['Weighbridge hut']}"
    # By hand: 2734 mm is 457.5 mm more than 2276.5 mm, and a wall of 400 mm leaves 57.5 mm over.
    answer = send(f"{address}/tallies", sum="width over walls + 400 mm = length over walls").text
    assert "It does not come out: 58 mm left over" in answer or "57 mm left over" in answer

    number = re.search(r"/tallies/([^/]+)/remove", answer)
    after = send(f"{address}/tallies/{number[1]}/remove").text
    assert "Took out the tally" in after
    assert "/remove" not in after


def test_what_is_too_rough_says_how_much_would_do_at_the_scale_that_is_chosen(client: FlaskClient, ids: Ids):
    page = client.get(f"/subject/{ids.subjects['Weighbridge hut']}?scale=1:43.5").text

    # By hand: 0.2 mm on the model is 8.7 mm of the real thing; the phone's door height is known to 40 mm.
    assert re.search(r"door height</strong> too rough: known to ± \d+ mm, ± 8\.7 mm would do", page)


def test_a_photo_saved_again_smaller_is_shown_as_looking_alike(
    client: FlaskClient, ids: Ids, demo: Path, tmp_path: Path
):
    with open_archive(demo) as archive:
        with archive.look() as look:
            stored = photos.photo_named(look, "HC20_0412").picture.stored_path
        picture = Image.open(demo.joinpath(*stored.split("/")))
        picture.resize((picture.width // 2, picture.height // 2)).save(tmp_path / "again.jpg", quality=60)
        import_files(archive, [tmp_path / "again.jpg"], visit="Wendle Basin, June")

    shown = client.get(f"/photo/{ids.photos['HC20_0412']}/look-alikes").text
    assert re.findall(r'<span class="name">([^<]+)', shown) == ["again.jpg"]
    alone = client.get(f"/photo/{ids.photos['HC20_0417']}/look-alikes").text
    assert "No other photo here is the same picture" in alone


def test_a_search_is_kept_asked_again_and_forgotten(client: FlaskClient, send):
    address = "/find?words=crane&size=post+height+2.5+to+3+m&near=Wendle+Basin"
    question = unescape(re.search(r'name="question" value="([^"]*)"', client.get(address).text)[1])

    shown = send("/find/keep", name="Cranes <here>", question=question)
    assert "This search is kept as" in shown.text
    assert shown.request.args.to_dict() == {
        "words": "crane", "size": "post height 2.5 to 3 m", "near": "Wendle Basin", "within": "1 km",
    }  # fmt: skip

    again = re.search(r'href="([^"]*)">Cranes &lt;here&gt;', client.get("/find").text)[1]
    assert "Wharf crane" in client.get(unescape(again)).text
    assert "is forgotten" in send("/find/forget", name="Cranes <here>").text
    assert "Cranes &lt;here&gt;</a>" not in client.get("/find").text


def test_an_empty_search_is_not_kept(send, demo: Path):
    before = changes_in(demo)

    assert send("/find/keep", name="Nothing", question="").status_code == 400
    assert changes_in(demo) == before


def test_what_is_known_well_enough_for_a_scale_is_a_condition_too(client: FlaskClient, ids: Ids):
    shown = client.get("/find/answer", query_string={"good-for": "1:43.5"}).text
    assert "Weighbridge hut" not in shown, "its eaves are not known"

    shown = client.get("/find/answer", query_string={"looks-like": ids.photos["HC20_0417"]}).text
    assert "Quay bollard" in shown
    assert "Weighbridge hut" not in shown


def test_what_is_found_is_counted_by_kind_and_narrowed_by_a_click(client: FlaskClient):
    shown = client.get("/find/answer", query_string={"size": "height 0.5 to 3 m"}).text
    by_kind = dict(re.findall(r'<a href="([^"]*kind=[^"]*)">[^<]+</a> <span class="facts">(\d+)', shown))

    # A hut, a crane, a bollard and a lamp of the demo have such a height.
    assert list(by_kind.values()) == ["1"] * 4
    narrower = client.get(unescape(next(address for address in by_kind if "kind=crane" in address))).text
    assert "1 subject" in narrower
    assert "Wharf crane" in narrower


def test_a_photo_says_its_clock_its_zoom_and_where_it_pointed(
    client: FlaskClient, demo: Path, tmp_path: Path
):
    # The satellites' 9:20:28 UTC beside the camera's 10:20:30 is an hour before UTC.
    gps = {0x07: (5, [(9, 1), (20, 1), (28, 1)]), 0x1D: (2, "2023:06:17"), 0x10: (2, "M"), 0x11: (5, (90, 1)),
           0x05: (1, b"\x01"), 0x06: (5, (3, 1))}  # fmt: skip
    block = exif_block({}, {0x9003: (2, "2023:06:17 10:20:30"), 0xA404: (5, (2, 1))}, gps)
    file = tmp_path / "P5_0777.jpg"
    file.write_bytes(with_exif(jpeg_bytes(upright_scene()), block))
    with open_archive(demo) as archive:
        import_files(archive, [file], visit="June")
        with archive.look() as look:
            photo_id = photos.photo_named(look, "P5_0777").id

    shown = " ".join(re.sub("<[^>]+>", " ", client.get(f"/photo/{photo_id}").text).split())

    for fact in (
        "UTC+01:00, by satellite time",
        "digital zoom 2 times",
        "Height 3 m below the sea",
        "90° from magnetic north",
    ):
        assert fact in shown


def test_what_is_said_of_a_subject_is_put_right_in_one_go(send, client: FlaskClient, demo: Path, ids: Ids):
    address = f"/subject/{ids.subjects['Quay lamp']}"

    shown = send(
        f"{address}/amend", name="Quay lamp, east", kind="bollard", also="gas lamp\nthe <lamp>", maker="Tarn"
    )

    assert "<h1>Quay lamp, east</h1>" in shown.text
    assert "Also called gas lamp, the &lt;lamp&gt;" in shown.text
    with open_archive(demo) as archive, archive.look() as look:
        now = subjects.subject_named(look, "Quay lamp, east")
    assert (now.kind, now.maker, now.place) == ("bollard", "Tarn", "Wendle Basin")
    again = send(f"{address}/amend", also="the <lamp>", maker="").text
    assert "Amended the subject Quay lamp, east" in again, "as the history tells it"
    with open_archive(demo) as archive:
        with archive.look() as look:
            now = subjects.subject_named(look, "Quay lamp, east")
        assert (now.also, now.maker) == (("the <lamp>",), None)
        undo(archive)
        undo(archive)
        with archive.look() as look:
            assert subjects.subject_named(look, ids.subjects["Quay lamp"]).name == "Quay lamp"


def test_what_is_said_of_a_visit_is_put_right(send, demo: Path, ids: Ids):
    address = f"/visit/{ids.visits['Wendle Basin, June']}"

    shown = send(
        f"{address}/amend",
        name="Wendle Basin, first trip",
        zone="Europe/Dublin",
        days="16 June 2023 to 17 June 2023",
    )

    assert "<h1>Wendle Basin, first trip</h1>" in shown.text
    assert "2023-06-16 to 2023-06-17, zone Europe/Dublin" in re.sub("<[^>]+>", "", shown.text)
    refused = send(f"{address}/amend", name="Wendle Basin, September", people="A. Moss")
    assert refused.status_code == 409
    assert "A. Moss" not in send(f"{address}/amend").text, "all or nothing"
    assert "2023" not in re.search(r'id="days"[^>]*', send(f"{address}/amend", days="").text)[0]


@pytest.mark.parametrize("field", ["maker", "notes"])
def test_a_fact_that_was_changed_elsewhere_meanwhile_is_not_overwritten(
    send, demo: Path, ids: Ids, field: str
):
    with open_archive(demo) as archive:
        amend_subject(archive, "Quay lamp", **{field: "by the command line"})
    address = f"/subject/{ids.subjects['Quay lamp']}/amend"

    refused = send(address, **{field: "by the page", f"was-{field}": "", "era": "1890s", "was-era": ""})
    kept = send(address, **{field: "", f"was-{field}": "", "era": "1890s", "was-era": ""})

    assert refused.status_code == 400
    assert f"The {field} was changed meanwhile, to &#39;by the command line&#39;" in refused.text
    assert "1890s" in kept.text, "what the page did not change is no quarrel"
    with open_archive(demo) as archive, archive.look() as look:
        assert getattr(subjects.subject_named(look, "Quay lamp"), field) == "by the command line"


def test_an_instrument_is_put_right_and_what_it_took_follows(send, demo: Path):
    with open_archive(demo) as archive, archive.look() as look:
        tape = instruments.instrument_named(look, "long tape")
    before = doubt_of(demo, "Weighbridge hut", "door width")

    said = send(
        f"/instrument/{tape.id}/amend", name="steel tape", limit="40 mm", resolution="", steady="steady"
    ).text

    assert "Amended the long tape; " in said
    with open_archive(demo) as archive, archive.look() as look:
        now = instruments.instrument_named(look, "steel tape")
    assert (now.id, now.limit_as_written, now.steady, now.kind) == (tape.id, "40 mm", True, "tape")
    # A limit of 40 mm is 23 mm of standard uncertainty (JCGM 100:2008, 4.3.7), far above what it was.
    assert doubt_of(demo, "Weighbridge hut", "door width") == pytest.approx(40 / 3**0.5, rel=0.02)
    assert before < 1
    again = send(f"/instrument/{tape.id}/amend", name="steel tape").text
    assert "worked out anew" not in again, "nothing was changed"
    assert "Amended the instrument long tape" in again, "as the history tells it"


def doubt_of(folder: Path, subject: str, label: str) -> float:
    with open_archive(folder) as archive:
        lines = sizes_of(archive, subject).lines
    return next(line.estimate.standard_uncertainty for line in lines if line.dimension.label == label)
