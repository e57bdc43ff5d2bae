from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.packs import lettering

SIZE_PT, COLUMN_MM = 10.0, 50.0


def letters(text: str) -> str:
    return "".join(text.split())


@given(st.text(max_size=400))
def test_no_line_is_wider_than_its_column_and_no_letter_is_lost(text):
    shown = lettering.printable(text)

    lines = lettering.wrap(shown, SIZE_PT, COLUMN_MM)

    assert all(lettering.width_mm(line, SIZE_PT) <= COLUMN_MM + 1e-6 for line in lines)
    assert letters("".join(lines)) == letters(shown)


@given(st.text(max_size=400), st.integers(1, 4))
def test_what_is_cut_ends_in_an_ellipsis_and_begins_as_it_was(text, most):
    shown = lettering.printable(text)
    whole = lettering.wrap(shown, SIZE_PT, COLUMN_MM)

    cut = lettering.wrap(shown, SIZE_PT, COLUMN_MM, most=most)

    assert all(lettering.width_mm(line, SIZE_PT) <= COLUMN_MM + 1e-6 for line in cut)
    if len(whole) <= most:
        assert cut == whole
    else:
        assert len(cut) == most
        assert cut[:-1] == whole[: most - 1]
        assert cut[-1].endswith("…")


def test_words_stay_whole_where_they_fit():
    assert lettering.wrap("weighbridge hut door", SIZE_PT, 22.0) == ["weighbridge", "hut door"]


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("plain", "plain"),
        ("a\tb\r\nc\u2028d\u00a0e", "a b c d e"),
        ("nul\x00l, esc\x1b[0m", "null, esc[0m"),
        ("\u202egnp.exe\u202c", "gnp.exe"),
        ("e\u0301", "é"),  # composed, as the fonts hold it
        ("🚂", "[U+1F682]"),
        ("a🚂🚃b", "a[U+1F682][U+1F683]b"),
        ("🚂" * 9, "[9 characters that cannot be printed here: see pack.json]"),
        ("\udce9", "[U+DCE9]"),
        ("½ ⅝ ± ″ ′ × Ø °", "½ ⅝ ± ″ ′ × Ø °"),
        ("Łódź Ωμέγα железная 模型", "Łódź Ωμέγα железная 模型"),
    ],
)
def test_what_is_printed_of_a_text(text, shown):
    assert lettering.printable(text) == shown


@given(st.text(max_size=60))
def test_every_character_that_is_printed_has_a_font_that_holds_it(text):
    runs = lettering.runs(lettering.printable(text))

    assert "".join(piece for _, piece in runs) == lettering.printable(text)
    for font, piece in runs:
        if font == lettering.LETTERS:
            held = lettering._embedded(font)
            assert all(ord(character) in held for character in piece)
