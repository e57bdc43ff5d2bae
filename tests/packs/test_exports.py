from __future__ import annotations

import csv
import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.packs.exports import pack_document, safe_cell, write_dimensions_csv, write_pack_json
from archive.records.things import Warned


def read_csv(file):
    with file.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_the_table_has_a_row_a_size_with_units_in_its_header_and_unrounded_numbers(content, tmp_path):
    write_dimensions_csv(content, tmp_path / "dimensions.csv")

    rows = read_csv(tmp_path / "dimensions.csv")

    assert len(rows) == len(content.sizes)
    height = next(row for row in rows if row["size"] == "post height")
    assert (height["subject"], height["part"], height["span"], height["state"]) == (
        "Wharf crane",
        "post",
        "over",
        "1962",
    )
    assert float(height["real_mm"]) == 2743.2
    assert float(height["real_low_95_mm"]) == 2723.2
    # By hand: 2743.2 mm is 9 ft, and at 7 mm to the foot 63 mm.
    assert float(height["model_mm"]) == pytest.approx(63.0, abs=1e-12)
    width = next(row for row in rows if row["size"] == "front width")
    assert float(width["model_mm"]) == pytest.approx(2733.7 * 7 / 304.8, rel=1e-15)  # all its digits


def test_what_is_no_length_has_its_own_columns_and_no_model_size(content, tmp_path):
    angle = replace(content.sizes[4], label="roof angle", quantity="angle", unit="deg", value=42.5, u=0.5)
    write_dimensions_csv(replace(content, sizes=(content.sizes[4], angle)), tmp_path / "dimensions.csv")

    count, roof = read_csv(tmp_path / "dimensions.csv")

    assert (float(count["other_value"]), count["quantity"], count["real_mm"], count["model_mm"]) == (
        5,
        "count",
        "",
        "",
    )
    assert (float(roof["other_value"]), roof["other_unit"], float(roof["other_u"])) == (42.5, "deg", 0.5)


def test_text_that_a_spreadsheet_could_run_is_quoted_and_negative_numbers_are_not(content, tmp_path):
    formula = '=HYPERLINK("http://example.invalid")'
    size = replace(
        content.sizes[0],
        source_text=formula,
        as_written=("-5",),
        value=-12.5,
        warnings=(Warned("odd", "@SUM(A1)"),),
    )
    write_dimensions_csv(replace(content, sizes=(size,)), tmp_path / "dimensions.csv")

    (row,) = read_csv(tmp_path / "dimensions.csv")

    assert row["source"] == f"'{formula}"
    assert row["as_written"] == "'-5"
    assert row["notes"] == "'@SUM(A1)"
    assert float(row["real_mm"]) == -12.5


@given(st.text())
def test_no_cell_starts_like_a_formula_and_its_text_is_whole(text):
    cell = safe_cell(text)

    assert not cell.lstrip(" ").startswith(("=", "+", "-", "@"))
    assert cell in (text, f"'{text}")


def test_the_document_keeps_every_number_and_text_as_it_is(content, tmp_path):
    write_pack_json(content, {content.photos[0].id: "photos/front 1.jpg"}, tmp_path / "pack.json")

    found = json.loads((tmp_path / "pack.json").read_text(encoding="utf-8"))

    assert found == pack_document(content, {content.photos[0].id: "photos/front 1.jpg"})
    assert found["format"] == 1
    assert found["scale"]["ratio_exact"] == "1524/35"  # 304.8/7 in lowest terms
    sizes = {size["dimension"]: size for size in found["sizes"]}
    assert sizes["door width"]["value_mm"] == 835.0
    assert sizes["door width"]["standard_uncertainty_mm"] == 2.0
    assert sizes["door width"]["interval_95_mm"] == [831.0, 839.0]
    assert sizes["door width"]["as_written"] == ["2'9\"", "83.5 cm"]
    assert sizes["door width"]["warnings"][0]["code"] == "readings-disagree"
    assert sizes["door width"]["model"]["model_mm"] == pytest.approx(835 * 7 / 304.8, rel=1e-15)
    assert sizes["board count"]["model"] is None
    assert "value_mm" not in sizes["board count"]
    photo = found["photos"][0]
    assert photo["file"] == "P5_20230617_101431.jpg"
    assert photo["copy"] == "photos/front 1.jpg"
    assert photo["taken"] == "2023-06-17T10:12:04"
    assert photo["sightings"] == [
        {"subject": "Weighbridge hut", "view": "front", "mirrored": False, "region": None}
    ]


def test_text_with_undecodable_bytes_is_still_written(content, tmp_path):
    odd = replace(content, build="caf\udce9 \x00")

    write_pack_json(odd, {}, tmp_path / "pack.json")
    write_dimensions_csv(
        replace(odd, sizes=(replace(odd.sizes[0], source_text="\udce9"),)), tmp_path / "d.csv"
    )

    assert json.loads((tmp_path / "pack.json").read_text(encoding="utf-8"))["build"] == odd.build
    assert read_csv(tmp_path / "d.csv")[0]["source"] == "\\udce9"
