"""The demonstration does what it says: typed by hand, its commands give the same archive."""

import csv
import json
import shlex
import shutil
from pathlib import Path

import pytest
import readme_tour
from click.testing import CliRunner, Result
from demonstration import Demonstration

from archive import demo
from archive.carried import carried_folder
from archive.cli import main
from archive.demo import run_demo

SUBJECTS = ("Weighbridge hut", "Wharf crane", "Quay bollard", "Quay lamp", "Sack truck")
# What differs from archive to archive, and means nothing.
PASSING = ("id", "dimension_id", "replaces", "seconds", "derived_by")


@pytest.fixture(scope="module")
def told(demonstration: Demonstration) -> tuple[Path, list[str]]:
    """The folder of a finished demonstration, and every line that it told."""
    return demonstration


def typed_commands(lines: list[str]) -> list[list[str]]:
    """The commands before the farewell, split as a shell splits them."""
    farewell = next(n for n, line in enumerate(lines) if line.startswith("Try next"))
    commands = [line[2:] for line in lines[:farewell] if line.startswith(("  rivetbook ", "  cd "))]
    return [shlex.split(command) for command in commands]


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words), prog_name="rivetbook")


@pytest.fixture(scope="module")
def typed(told: tuple[Path, list[str]], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same job, typed command by command into a folder that has only the cards, the notebook and the sheets."""
    folder, lines = told
    here = tmp_path_factory.mktemp("typed")
    for given in ("card", "notebook", "sheets"):
        shutil.copytree(folder / given, here / given)
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("RIVETBOOK_ARCHIVE", raising=False)
        patch.chdir(here)
        for words in typed_commands(lines):
            if words[0] == "cd":
                patch.chdir(words[1])
                continue
            result = run(*words[1:])
            assert result.exit_code == 0, (words, result.output)
    return here


def shown(archive: Path, *words: str) -> object:
    result = run("--archive", str(archive), *words, "--json")
    assert result.exit_code == 0, result.output
    return without_ids(json.loads(result.output))


def without_ids(document: object) -> object:
    if isinstance(document, dict):
        kept = {k: v for k, v in document.items() if k not in PASSING}
        if "as_written" in kept:
            kept.pop("dimension", None)
        if "share" in kept:
            kept.pop("of")
        return {k: without_ids(v) for k, v in kept.items()}
    if isinstance(document, list):
        return [without_ids(item) for item in document]
    return document


@pytest.mark.parametrize("subject", SUBJECTS)
def test_the_commands_typed_by_hand_give_the_same_sizes(
    told: tuple[Path, list[str]], typed: Path, subject: str
) -> None:
    for more in ((), ("--at", "1:43.5")):
        by_demo = shown(told[0] / "archive", "sizes", subject, *more)
        assert by_demo == shown(typed / "archive", "sizes", subject, *more)


def test_the_commands_typed_by_hand_give_the_same_photos_and_links(
    told: tuple[Path, list[str]], typed: Path
) -> None:
    photos = shown(told[0] / "archive", "photos")
    assert photos == shown(typed / "archive", "photos")
    assert len(photos["photos"]) == 30  # type: ignore[index, call-overload]


def test_each_command_is_an_act_of_its_own_in_the_history(told: tuple[Path, list[str]], typed: Path) -> None:
    def sentences(archive: Path) -> list[str]:
        acts = shown(archive, "history", "--most", "999")["acts"]  # type: ignore[index, call-overload]
        return [act["sentences"] for act in acts]

    assert sentences(told[0] / "archive") == sentences(typed / "archive")


def test_the_commands_typed_by_hand_give_the_same_packs(told: tuple[Path, list[str]], typed: Path) -> None:
    for pack in ("hut-pack", "crane-pack"):
        by_demo = (told[0] / pack / "dimensions.csv").read_text(encoding="utf-8")
        assert by_demo == (typed / pack / "dimensions.csv").read_text(encoding="utf-8")
        assert (typed / pack / "reference-pack.pdf").stat().st_size > 100_000


def test_what_was_measured_lies_within_its_doubt_of_the_true_size(told: tuple[Path, list[str]]) -> None:
    # True sizes: demo_library/truth.json, from which the photographs were made.
    true_mm = {
        ("Weighbridge hut", "length over walls"): 2733.675,
        ("Weighbridge hut", "width over walls"): 2276.475,
        ("Weighbridge hut", "door height"): 1760.3,
        ("Wharf crane", "post height"): 2743.2,
        ("Wharf crane", "crank throw"): 381.0,
        ("Wharf crane", "band spacing"): 685.8,
        ("Wharf crane", "base width"): 762.0,
        ("Wharf crane", "gear diameter"): 635.0,
        ("Quay bollard", "base diameter"): 508.0,
        ("Quay lamp", "pedestal height"): 685.8,
    }
    for (subject, label), size_mm in true_mm.items():
        sizes = shown(told[0] / "archive", "sizes", subject)["sizes"]  # type: ignore[index, call-overload]
        low, high = next(s["interval_95_mm"] for s in sizes if s["dimension"] == label)
        assert low <= size_mm <= high, (subject, label)


def test_a_disagreement_is_named_and_a_check_mends_it(told: tuple[Path, list[str]]) -> None:
    # The two readings are 22 mm apart, by which the old tape reads long.
    at = next(n for n, line in enumerate(told[1]) if line.startswith("Two readings do not agree"))
    said = " ".join(line.strip() for line in told[1][at : at + 14])
    assert "'2ft 6in' (long tape) and '784 mm' (old tape) do not agree: they are 22 mm apart" in said
    assert "It reads 22.0 mm long" in said
    sizes = shown(told[0] / "archive", "sizes", "Wharf crane")["sizes"]  # type: ignore[index, call-overload]
    base = next(s for s in sizes if s["dimension"] == "base width")
    assert (base["agree"], base["warnings"]) == (True, [])


def test_what_nobody_measured_is_worked_out_from_the_photos_and_holds_the_truth(
    told: tuple[Path, list[str]],
) -> None:
    # True sizes: demo_library/truth.json, by the points between which each is asked.
    true_mm = {
        ("Wharf crane", "jib radius"): ("wharf-crane", "Jib radius, post centre to sheave pin"),
        ("Wharf crane", "bands 1 to 4 height"): ("wharf-crane", "Bands 1 to 4"),
        ("Weighbridge hut", "lintel length"): ("weigh-hut", "Door lintel length"),
        ("Weighbridge hut", "sill length"): ("weigh-hut", "Sill length"),
        ("Weighbridge hut", "window height"): ("weigh-hut", "Window sight height"),
        ("Weighbridge hut", "step width"): ("weigh-hut", "Step width"),
        ("Quay bollard", "bolt circle diameter"): ("bollard", "Bolt circle diameter"),
        ("Quay lamp", "height over finial"): ("lamp-standard", "Height over finial"),
    }
    truth = json.loads((carried_folder("demo_library") / "truth.json").read_text(encoding="utf-8"))
    shown_beside = "\n".join(told[1])
    for (subject, label), (thing, name) in true_mm.items():
        (size_mm,) = [d["mm"] for d in truth["subjects"][thing]["dimensions"] if d["name"] == name]
        sizes = shown(told[0] / "archive", "sizes", subject)["sizes"]  # type: ignore[index, call-overload]
        size = next(s for s in sizes if s["dimension"] == label)
        assert size["interval_95_mm"][0] <= size_mm <= size["interval_95_mm"][1], (subject, label)
        assert (size["grade"], len(size["readings"])) == ("worked out", 1)
        assert f"in truth {size_mm:.1f} mm" in shown_beside, label


def test_the_packs_mark_what_was_worked_out(told: tuple[Path, list[str]]) -> None:
    for pack, count in (("hut-pack", 5), ("crane-pack", 2)):
        with (told[0] / pack / "dimensions.csv").open(encoding="utf-8-sig", newline="") as file:
            rows = [row for row in csv.DictReader(file) if row["grade"] == "worked out"]
        assert len(rows) == count
        assert all(" in photo " in row["source"] or "square-on" in row["source"] for row in rows)


def test_a_second_demonstration_takes_the_next_free_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(demo._Demo, "run", lambda _self: None)  # the names are chosen before anything is done
    (tmp_path / "wendle-basin-demo").mkdir()
    assert run_demo(None, say=lambda _line: None) == Path("wendle-basin-demo-2")


def test_a_folder_that_holds_something_is_not_used(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    result = run("demo", str(tmp_path))
    assert result.exit_code == 1
    assert "something is there already" in result.output
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]


def test_the_tour_in_readme_prints_what_it_says(told: tuple[Path, list[str]], tmp_path: Path) -> None:
    shutil.copytree(told[0], tmp_path / "wendle-basin-demo")
    run(
        "--archive", str(tmp_path / "wendle-basin-demo" / "archive"), "find", "crane"
    )  # its index is made anew

    steps = [(step, printed) for step, printed in readme_tour.taken(tmp_path / "wendle-basin-demo")]

    assert len(steps) > 20
    for step, printed in steps:
        assert readme_tour.without_times(printed) == readme_tour.without_times(step.printed), step.line
