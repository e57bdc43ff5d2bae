"""What a photo says of itself: right where it is right, unknown where it is not, never made up.

Right values: the values written into the test's own blocks, by the standards that define them.
"""

from __future__ import annotations

import struct
import time
from pathlib import Path

import made_pictures as made
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from archive.errors import PictureNotReadable
from archive.ingest import positions, times
from archive.ingest.exif import read_exif
from archive.ingest.metadata import PhotoMetadata, of_blocks, read_metadata, read_sidecar
from archive.ingest.words import clean, decoded_text
from archive.ingest.xmp import read_xmp
from archive.pictures import MetadataBlocks

Table = dict[int, tuple[int, object]]
NORTH_WEST: Table = {
    0x01: (2, "N"),
    0x02: (5, [(52, 1), (30, 1), (36, 1)]),
    0x03: (2, "W"),
    0x04: (5, [(1, 1), (15, 1), (0, 1)]),
}


def of_exif(main: Table | None = None, exif: Table | None = None, gps: Table | None = None) -> PhotoMetadata:
    return of_blocks(MetadataBlocks(exif=made.exif_block(main or {0x0131: (2, "x")}, exif, gps)))


def codes(metadata: PhotoMetadata) -> list[str]:
    return [warning.code for warning in metadata.warnings]


# When


def test_a_date_is_kept_as_read_and_as_local_time_with_its_parts():
    read = of_exif(
        exif={
            0x9003: (2, "2023:06:17 10:20:30"),
            0x9291: (2, "05 "),
            0x9011: (2, "+01:00"),
            0x9004: (2, "2001:01:01 0:0:0"),
        }
    )

    assert read.taken_as_read == "2023:06:17 10:20:30"
    assert (read.taken, read.subsecond, read.utc_offset) == ("2023-06-17T10:20:30", "05", "+01:00")
    assert read.readers["taken"] == "exifread"


@pytest.mark.parametrize("unset", ["0000:00:00 00:00:00", "    :  :     :  :  ", ""])
def test_a_clock_that_was_never_set_gives_no_date_and_no_warning(unset: str):
    read = of_exif(exif={0x9003: (2, unset)})

    assert (read.taken, codes(read)) == (None, [])


@pytest.mark.parametrize(
    ("written", "why"),
    [
        ("2019:08:31 24:00:00", "hour 24"),
        ("2019:02:30 10:00:00", "no such day"),
        ("2019:13:01 10:00:00", "no such day"),
        ("0209:08:31 10:00:00", "year 209"),
        ("31 August 2019", "not written as a date"),
    ],
)
def test_an_impossible_date_is_unknown_with_its_text_kept_and_a_warning(written: str, why: str):
    read = of_exif(exif={0x9003: (2, written)})

    assert (read.taken, read.taken_as_read, codes(read)) == (None, written, ["taken-impossible"])
    assert why in read.warnings[0].message
    assert written in read.warnings[0].message


def test_the_date_of_digitizing_stands_in_only_where_there_is_no_other():
    assert of_exif(exif={0x9004: (2, "2023:06:17 10:20:30")}).taken == "2023-06-17T10:20:30"
    assert of_exif(main={0x0132: (2, "2023:06:17 10:20:30")}).taken is None  # of the last edit


def test_satellite_time_tells_the_offset_that_the_camera_does_not():
    gps: Table = {0x07: (5, [(9, 1), (20, 1), (25, 1)]), 0x1D: (2, "2023:06:17")}

    read = of_exif(exif={0x9003: (2, "2023:06:17 10:20:30")}, gps=gps)

    assert (read.gps_utc, read.utc_offset_by_gps, read.utc_offset) == ("2023-06-17T09:20:25Z", "+01:00", None)


@pytest.mark.parametrize(
    ("local", "utc", "offset"),
    [
        ("2023-01-01 00:10", "2022-12-31 18:25", "+05:45"),  # Nepal, over the turn of the year
        ("2023-06-17 10:00", "2023-06-17 13:31", "-03:30"),
        ("2023-06-17 10:00", "2023-06-17 10:15", None),  # no clock on earth is a quarter of an hour off UTC
        ("2023-06-17 10:00", "2023-06-17 10:07", None),  # 7 minutes off any quarter of an hour
        ("2023-06-17 10:00", "2023-06-15 10:00", None),  # an old fix
    ],
)
def test_an_offset_is_told_only_where_the_clocks_can_agree(local: str, utc: str, offset: str | None):
    from datetime import UTC, datetime

    moments = datetime.fromisoformat(local), datetime.fromisoformat(utc).replace(tzinfo=UTC)

    assert times.offset_from_gps(*moments) == offset


@pytest.mark.parametrize(
    ("text", "offset"), [("+05:30", "+05:30"), ("Z", "+00:00"), ("   :  ", None), ("+99:00", None)]
)
def test_a_blank_or_impossible_offset_is_unknown(text: str, offset: str | None):
    assert of_exif(exif={0x9003: (2, "2023:06:17 10:20:30"), 0x9011: (2, text)}).utc_offset == offset


# Where


def test_a_position_is_signed_degrees():
    read = of_exif(gps=NORTH_WEST)

    # By hand: 52 + 30/60 + 36/3600 and -(1 + 15/60).
    assert (read.latitude, read.longitude) == (pytest.approx(52.51), pytest.approx(-1.25))
    south_east = {**NORTH_WEST, 0x01: (2, "S"), 0x03: (2, "E")}
    assert (of_exif(gps=south_east).latitude, of_exif(gps=south_east).longitude) == (
        pytest.approx(-52.51),
        pytest.approx(1.25),
    )


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({0x02: (5, [(0, 0), (0, 0), (0, 0)])}, "position-invalid"),
        ({0x02: (5, [(52, 1), (30, 1), (0, 0)])}, "position-invalid"),
        ({0x02: (5, [(0, 1), (0, 1), (0, 1)]), 0x04: (5, [(0, 1), (0, 1), (0, 1)])}, "position-zero"),
        ({0x02: (5, [(91, 1), (0, 1), (0, 1)])}, "position-impossible"),
        ({0x04: (5, [(181, 1), (0, 1), (0, 1)])}, "position-impossible"),
        ({0x01: (2, "")}, "position-no-hemisphere"),
    ],
)
def test_a_position_that_cannot_be_is_unknown_with_a_warning(changes: Table, code: str):
    read = of_exif(gps={**NORTH_WEST, **changes})

    assert (read.latitude, read.longitude, codes(read)) == (None, None, [code])


def test_a_position_on_one_of_the_zero_lines_is_a_position():
    read = of_exif(gps={**NORTH_WEST, 0x04: (5, [(0, 1), (0, 1), (0, 1)])})

    assert (read.latitude, read.longitude, codes(read)) == (pytest.approx(52.51), 0, [])


def test_half_a_position_is_none():
    assert of_exif(gps={tag: NORTH_WEST[tag] for tag in (1, 2)}).latitude is None
    assert of_exif(gps={1: (2, "N"), 3: (2, "E")}).latitude is None


def test_degrees_written_as_text_are_read_with_a_warning():
    # Three numbers with decimal commas: 52° 50' 34.01".
    read = of_exif(
        gps={**NORTH_WEST, 0x02: (2, "52,00000,50,00000,34,01000"), 0x04: (2, "11,00000,10,00000,58,00000")}
    )

    assert read.latitude == pytest.approx(52 + 50 / 60 + 34.01 / 3600)
    assert codes(read) == ["position-odd-form"]


@pytest.mark.parametrize(("reference", "metres"), [(b"\0", 12.5), (b"\1", -12.5), (None, 12.5)])
def test_height_below_the_sea_is_negative(reference: bytes | None, metres: float):
    gps: Table = {0x06: (5, (25, 2))}
    if reference is not None:
        gps[0x05] = (1, reference)

    assert of_exif(gps=gps).altitude_m == metres


def test_a_height_of_nothing_over_nothing_is_unknown():
    assert of_exif(gps={0x05: (1, b"\0"), 0x06: (5, (0, 0))}).altitude_m is None


@pytest.mark.parametrize(
    ("pair", "letter", "read"),
    [
        ((2245, 10), "M", (224.5, "M")),
        ((0, 1), "T", (0, "T")),
        ((0, 0), "T", (None, None)),
        ((400, 1), "T", (None, None)),
    ],
)
def test_the_bearing_says_by_which_north(
    pair: tuple[int, int], letter: str, read: tuple[float | None, str | None]
):
    found = of_exif(gps={0x10: (2, letter), 0x11: (5, pair)})

    assert (found.bearing_deg, found.bearing_reference) == read


def test_a_position_in_xmp_does_not_stand_in_for_one_of_exif_that_was_refused():
    packet = made.xmp_packet('exif:GPSLatitude="52,30.6N" exif:GPSLongitude="1,15,0W"')

    alone = of_blocks(MetadataBlocks(xmp=packet))
    beside = of_blocks(
        MetadataBlocks(exif=made.exif_block({}, None, {**NORTH_WEST, 2: (5, [(0, 0)] * 3)}), xmp=packet)
    )

    assert (alone.latitude, alone.longitude) == (pytest.approx(52.51), pytest.approx(-1.25))
    assert alone.readers["latitude"] == "XMP"
    assert (beside.latitude, codes(beside)) == (None, ["position-invalid"])
    assert "52.51000, -1.25000" in beside.warnings[0].message


# With what


def test_the_camera_and_its_lens_are_read():
    read = of_exif(
        {0x010F: (2, "Halden Optics  "), 0x0110: (2, "C20")},
        {0x920A: (5, (354, 10)), 0xA405: (3, 53), 0xA434: (2, "35 mm f/2")},
    )

    assert (read.make, read.model, read.lens) == ("Halden Optics", "C20", "35 mm f/2")
    assert (read.focal_mm, read.focal_35mm) == (35.4, 53)


def test_focal_lengths_of_nothing_are_unknown():
    read = of_exif(exif={0x920A: (5, (0, 0)), 0xA405: (3, 0)})

    assert (read.focal_mm, read.focal_35mm) == (None, None)


# What is written in it


def dataset(record: int, number: int, data: bytes) -> bytes:
    return b"\x1c" + bytes([record, number]) + struct.pack(">H", len(data)) + data


ALL = """<dc:description><rdf:Alt><rdf:li xml:lang="de">Kran</rdf:li><rdf:li xml:lang="x-default">機関車</rdf:li></rdf:Alt></dc:description>
<dc:creator><rdf:Seq><rdf:li>Žofie</rdf:li><rdf:li>Ali</rdf:li></rdf:Seq></dc:creator>
<dc:subject><rdf:Bag><rdf:li>паровоз</rdf:li><rdf:li>قاطرة</rdf:li><rdf:li>паровоз</rdf:li></rdf:Bag></dc:subject>
<dc:rights><rdf:Alt><rdf:li xml:lang="x-default">CC0 &amp; more</rdf:li></rdf:Alt></dc:rights>"""


def test_text_comes_from_xmp_then_iptc_then_exif():
    iptc = dataset(2, 120, b"IPTC caption") + dataset(2, 116, b"IPTC rights") + dataset(2, 25, b"crane")
    exif = made.exif_block(
        {0x010E: (2, "EXIF caption"), 0x013B: (2, "EXIF artist"), 0x8298: (2, "EXIF rights")}
    )
    packet = made.xmp_packet(elements=ALL.split("\n")[0])

    read = of_blocks(MetadataBlocks(exif=exif, xmp=packet, iptc=iptc))

    assert (read.caption, read.rights, read.creator) == ("機関車", "IPTC rights", "EXIF artist")
    assert read.keywords == ("crane",)
    assert [read.readers[key] for key in ("caption", "rights", "creator", "keywords")] == [
        "XMP",
        "IPTC",
        "exifread",
        "IPTC",
    ]


@pytest.mark.parametrize(
    ("written", "rights"),
    [
        (b"R. Sleight, 2023\0", "R. Sleight, 2023"),
        (b"R. Sleight, 2023\0The Basin Press\0", "R. Sleight, 2023\nThe Basin Press"),
        (b" \0The Basin Press\0", "The Basin Press"),  # a blank stands for no photographer
        (b"\0\0", None),
    ],
)
def test_the_photographer_s_rights_and_the_editor_s_are_both_kept(written: bytes, rights: str | None):
    # CIPA DC-008, 4.6.5, tag Copyright: both, parted by a NUL.
    assert of_exif({0x8298: (2, written)}).rights == rights


def test_xmp_text_is_read_in_any_script_the_default_language_first():
    read = of_blocks(MetadataBlocks(xmp=made.xmp_packet(elements=ALL)))

    assert (read.caption, read.creator, read.rights) == ("機関車", "Žofie, Ali", "CC0 & more")
    assert read.keywords == ("паровоз", "قاطرة")


@pytest.mark.parametrize(
    ("mark", "coding"),
    [(dataset(1, 90, b"\x1b%G"), "utf-8"), (b"", "utf-8"), (b"", "cp1252"), (b"", "latin-1")],
)
def test_iptc_text_is_read_by_its_mark_or_by_what_it_can_only_be(mark: bytes, coding: str):
    block = mark + dataset(2, 120, "Höhe 8½ Zoll, © Müller".encode(coding))

    assert of_blocks(MetadataBlocks(iptc=block)).caption == "Höhe 8½ Zoll, © Müller"


@pytest.mark.parametrize(
    ("mark", "coding", "text"),
    [
        (b"\x1b%G", "cp1252", "Höhe 8½ Zoll"),  # said to be UTF-8, and is not
        (b"\x1b-A", "latin-1", "Höhe"),
        (b"\x1b.A", "latin-1", "Höhe"),
        (b"\x1b-L", "iso8859-5", "Кран у шлюза"),
        (b"\x1b-F", "iso8859-7", "Γερανός"),
        (b"\x1b-B", "iso8859-2", "Jeřáb"),
    ],
)
def test_iptc_text_is_read_in_the_character_set_that_it_names_if_it_can_be(
    mark: bytes, coding: str, text: str
):
    block = dataset(1, 90, mark) + dataset(2, 120, text.encode(coding))

    assert of_blocks(MetadataBlocks(iptc=block)).caption == text


def test_text_that_was_cut_within_a_character_loses_that_one_only():
    # Captions of 2,000 bytes at most (IPTC-IIM 2:120) are cut wherever that falls.
    assert decoded_text("Кран".encode()[:-1]) == "Кра"


def test_what_windows_writes_in_its_own_tags_stands_in_for_what_is_missing():
    wide = {0x9C9B: "Кран", 0x9C9C: "seen from the lock", 0x9C9D: "Žofie", 0x9C9E: "crane; lock;"}
    tags: Table = {tag: (1, text.encode("utf-16-le") + b"\0\0") for tag, text in wide.items()}

    alone, beside = of_exif(tags), of_exif({**tags, 0x010E: (2, "a crane"), 0x013B: (2, "Ali")})

    assert (alone.caption, alone.creator, alone.keywords) == ("Кран", "Žofie", ("crane", "lock"))
    assert (beside.caption, beside.creator) == ("a crane", "Ali")
    assert alone.readers["keywords"] == "directories"


def test_xmp_in_an_old_code_page_is_read():
    packet = "<rdf:RDF xmlns:rdf='http://www.w3.org/1999/02/22-rdf-syntax-ns#' xmlns:dc='http://purl.org/dc/elements/1.1/'><rdf:Description><dc:description>Löschkran</dc:description></rdf:Description></rdf:RDF>"

    assert of_blocks(MetadataBlocks(xmp=packet.encode("latin-1"))).caption == "Löschkran"


def test_exif_that_goes_on_in_a_second_segment_is_read_whole(tmp_path: Path):
    # A block larger than 64 KiB does not fit into one segment; its values may lie anywhere in it.
    block = made.exif_block({0x010E: (2, "x" * 70_000), 0x010F: (2, "Halden Optical")})
    parts = block[:65_000], block[65_000:]
    segments = [made.segment(0xE1, b"Exif\0\0" + part) for part in parts]
    file = tmp_path / "large.jpg"
    file.write_bytes(made.with_segments(made.jpeg_bytes(made.upright_scene()), *segments))

    assert read_metadata(file).make == "Halden Optical"


def test_a_second_block_of_exif_does_not_disturb_the_first(tmp_path: Path):
    blocks = [made.exif_block({0x010F: (2, make)}) for make in ("Halden", "Orrin")]
    segments = [made.segment(0xE1, b"Exif\0\0" + block) for block in blocks]
    file = tmp_path / "two.jpg"
    file.write_bytes(made.with_segments(made.jpeg_bytes(made.upright_scene()), *segments))

    read = read_metadata(file)
    assert (read.make, codes(read)) == ("Halden", [])


def test_a_cut_off_iptc_block_gives_what_is_left():
    block = dataset(2, 25, b"gear") + dataset(2, 25, b"jib")

    assert of_blocks(MetadataBlocks(iptc=block[:-1])).keywords == ("gear", "ji")
    assert of_blocks(MetadataBlocks(iptc=block[:11])).keywords == ("gear",)


def test_control_characters_are_taken_out_of_text():
    assert (
        of_exif({0x010E: (2, b"jib\x1b[31m head\r\nand\x07 foot  \0rest")}).caption
        == "jib[31m head\nand foot"
    )


def test_exif_text_in_an_old_code_page_is_read():
    assert of_exif({0x013B: (2, "Jörg Müller".encode("cp1252") + b"\0")}).creator == "Jörg Müller"


# Damage and harm


def test_a_directory_that_points_at_itself_ends_and_is_said():
    block = bytearray(made.exif_block({0x010F: (2, "Halden")}))
    end = 8 + 2 + 12  # the pointer to the next directory
    block[end : end + 4] = struct.pack("<I", 8)

    read = of_blocks(MetadataBlocks(exif=bytes(block)))

    assert (read.make, codes(read)) == ("Halden", ["metadata-damaged"])


def test_an_exif_pointer_that_is_no_number_is_said():
    read = of_exif({0x8769: (2, "nowhere"), 0x010F: (2, "Halden")})

    assert (read.make, codes(read)) == ("Halden", ["metadata-damaged"])


def test_where_exifread_fails_our_own_reader_stands_in(monkeypatch: pytest.MonkeyPatch):
    import exifread

    def fails(*_: object, **__: object) -> None:
        raise AssertionError

    monkeypatch.setattr(exifread, "process_file", fails)

    read = of_exif({0x010F: (2, "Halden")}, {0x9003: (2, "2023:06:17 10:20:30")}, NORTH_WEST)

    assert (read.make, read.taken, read.latitude) == ("Halden", "2023-06-17T10:20:30", pytest.approx(52.51))
    assert set(read.readers.values()) == {"directories"}


def test_a_block_that_asks_for_endless_reading_is_given_up_in_time():
    # 60,000 entries of 999 rationals each, all over the same bytes: 120 million reads if one followed it.
    entries = struct.pack("<HHII", 0x9000, 5, 999, 8) * 60_000
    block = b"II*\0" + struct.pack("<IH", 8, 60_000) + entries + bytes(8000)
    began = time.monotonic()

    read_exif(block)

    assert time.monotonic() - began < 10


@pytest.mark.parametrize(
    "packet",
    [
        b"<x:xmpmeta><unclosed>",
        b'<!DOCTYPE a [<!ENTITY b "b"><!ENTITY c "&b;&b;&b;">]><a>&c;</a>',
        b'<!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/hostname">]><a>&b;</a>',
        b"\xff\xfe\x00nonsense",
    ],
)
def test_xml_that_is_broken_or_declares_entities_is_left_unread(packet: bytes):
    assert codes(of_blocks(MetadataBlocks(xmp=packet))) == ["metadata-damaged"]


def test_a_deeply_nested_packet_is_read_or_left_but_never_fatal():
    assert read_xmp(b"<a>" * 100_000 + b"</a>" * 100_000).texts.caption is None


@settings(deadline=None)
@given(st.binary(max_size=600))
def test_no_bytes_can_do_more_than_say_nothing(data: bytes):
    of_blocks(MetadataBlocks(exif=data, xmp=data, iptc=data))


@settings(deadline=None)  # a directory may count 65,535 entries, and reading it is only bounded
@given(st.binary(max_size=200), st.sampled_from([b"II*\0\x08\0\0\0", b"MM\0*\0\0\0\x08"]))
def test_no_directory_can_do_more_than_be_damaged(data: bytes, head: bytes):
    read = of_blocks(MetadataBlocks(exif=head + data))

    for value in (read.focal_mm, read.latitude, read.altitude_m, read.bearing_deg):
        assert value is None or abs(value) < float("inf")


@given(st.binary(max_size=100))
def test_any_bytes_give_some_text_without_controls(data: bytes):
    text = clean(decoded_text(data)) or ""

    assert not any(ord(character) < 32 and character not in "\n\t" for character in text)
    text.encode("utf-8")  # no half characters


ARC_SECOND = 10_000  # in the test's unit, a ten-thousandth of one


@given(st.integers(1, 90 * 3600 * ARC_SECOND), st.integers(0, 180 * 3600 * ARC_SECOND))
def test_degrees_minutes_and_seconds_come_back_as_degrees(latitude: int, longitude: int):
    def triple(angle: int) -> list[tuple[int, int]]:
        minutes, rest = divmod(angle, 60 * ARC_SECOND)
        return [(minutes // 60, 1), (minutes % 60, 1), (rest, ARC_SECOND)]

    gps: Table = {1: (2, "S"), 2: (5, triple(latitude)), 3: (2, "W"), 4: (5, triple(longitude))}
    read = positions.position(read_exif(made.exif_block({}, None, gps)))

    assert read.latitude == pytest.approx(-latitude / ARC_SECOND / 3600, abs=1e-10)
    assert read.longitude == pytest.approx(-longitude / ARC_SECOND / 3600, abs=1e-10)


# Sidecars


def test_a_sidecar_is_read_like_the_packet_of_a_picture(tmp_path: Path):
    sidecar = tmp_path / "P5_0412.xmp"
    sidecar.write_bytes(
        made.xmp_packet('exif:DateTimeOriginal="2023-06-17T10:20:30.25+01:00" tiff:Make="Halden"', ALL)
    )

    read = read_sidecar(sidecar)

    assert (read.taken, read.utc_offset, read.make) == ("2023-06-17T10:20:30", "+01:00", "Halden")
    assert read.caption == "機関車"


@pytest.mark.parametrize("content", [b"", b"no xml", b"<a><b></a>"])
def test_a_sidecar_that_is_no_xmp_is_refused(tmp_path: Path, content: bytes):
    sidecar = tmp_path / "P5_0412.xmp"
    sidecar.write_bytes(content)

    with pytest.raises(PictureNotReadable, match=r"P5_0412\.xmp: .*sidecar"):
        read_sidecar(sidecar)


def test_a_picture_without_metadata_says_nothing_and_warns_of_nothing(tmp_path: Path):
    photo = tmp_path / "plain.jpg"
    photo.write_bytes(made.jpeg_bytes(made.upright_scene()))

    assert read_metadata(photo) == PhotoMetadata()
