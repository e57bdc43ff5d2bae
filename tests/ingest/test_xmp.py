"""What is found in XMP only: read as EXIF would have said it, with the reader named; packets in every form that writers use.

Right values: those written into the packets, by ISO 16684-1 and -2 and CIPA DC-X010.
"""

from __future__ import annotations

from pathlib import Path

import made_pictures as made
import pytest

from archive import pictures
from archive.ingest.metadata import PhotoMetadata, of_blocks, read_metadata, read_sidecar, with_sidecar
from archive.pictures import MetadataBlocks

ONLY_A_PROGRAM = made.exif_block({0x0131: (2, "a program")})  # EXIF that tells none of what is asked


def told(attributes: str = "", elements: str = "", exif: bytes | None = None) -> PhotoMetadata:
    return of_blocks(MetadataBlocks(exif=exif, xmp=made.xmp_packet(attributes, elements)))


@pytest.mark.parametrize("exif", [None, ONLY_A_PROGRAM], ids=["no EXIF", "EXIF without it"])
@pytest.mark.parametrize(
    ("written", "key", "value"),
    [
        ('exif:FocalLength="354/10"', "focal_mm", 35.4),
        ('exif:FocalLength="35.4"', "focal_mm", 35.4),
        ('exif:FocalLengthIn35mmFilm="53"', "focal_35mm", 53),
        ('exif:DigitalZoomRatio="2/1"', "digital_zoom", 2),
        ('exif:GPSAltitude="1500/10" exif:GPSAltitudeRef="0"', "altitude_m", 150),
        ('exif:GPSAltitude="143/10" exif:GPSAltitudeRef="1"', "altitude_m", -14.3),
        ('exif:GPSImgDirection="12345/100" exif:GPSImgDirectionRef="M"', "bearing_deg", 123.45),
        ('exif:GPSImgDirection="90" exif:GPSImgDirectionRef="M"', "bearing_reference", "M"),
        ('exif:PixelXDimension="4032" exif:PixelYDimension="3024"', "width_as_taken", 4032),
        ('exif:FocalPlaneXResolution="5080/1" exif:FocalPlaneResolutionUnit="2"', "sensor_px_per_mm", 200),
        ('tiff:Make="Halden" tiff:Model="C20"', "model", "C20"),
        ('exifEX:LensModel="35 mm f/2"', "lens", "35 mm f/2"),
        ('exif:GPSLatitude="51,30.5N" exif:GPSLongitude="0,7.5W"', "latitude", 51 + 30.5 / 60),
        ('exif:GPSLatitude="51,30,30S" exif:GPSLongitude="0,7,30W"', "latitude", -(51 + 30.5 / 60)),
        ('exif:GPSLatitude="51.5" exif:GPSLongitude="-0.125"', "longitude", -0.125),
        (
            'exif:GPSLatitude="51.5" exif:GPSLatitudeRef="N" exif:GPSLongitude="0.125" exif:GPSLongitudeRef="W"',
            "longitude",
            -0.125,
        ),
    ],
)
def test_a_fact_that_stands_in_xmp_only_is_taken_from_there(
    exif: bytes | None, written: str, key: str, value: object
):
    read = told(written, exif=exif)

    assert getattr(read, key) == (pytest.approx(value) if isinstance(value, float) else value)
    assert (read.readers[key], read.warnings) == ("XMP", ())


def test_exif_s_own_facts_are_not_mixed_with_those_of_xmp():
    exif = made.exif_block({0x010F: (2, "Halden")}, {0x920A: (5, (35, 1))}, {0x11: (5, (10, 1))})
    read = told(
        'exif:FocalLength="50/1" tiff:Make="Orrin" tiff:Model="P5" exif:GPSImgDirection="20" '
        'exif:GPSImgDirectionRef="T"',
        exif=exif,
    )

    # Half of EXIF's make and half of XMP's model would be a camera that there is not; so with the bearing.
    assert (read.make, read.model, read.focal_mm) == ("Halden", None, 35)
    assert (read.bearing_deg, read.bearing_reference) == (10, None)


@pytest.mark.parametrize(
    ("written", "taken", "subsecond", "offset"),
    [
        ('exif:DateTimeOriginal="2023-06-17T10:20:30.05+01:00"', "2023-06-17T10:20:30", "05", "+01:00"),
        ('exif:DateTimeOriginal="2023:06:17 10:20:30"', "2023-06-17T10:20:30", None, None),
        ('exif:DateTimeOriginal="2023-06-17T10:20Z"', "2023-06-17T10:20:00", None, "+00:00"),
        ('photoshop:DateCreated="2023-06-17T10:20:30-03:30"', "2023-06-17T10:20:30", None, "-03:30"),
        ('xmp:CreateDate="2023-06-17T10:20:30+05:45"', "2023-06-17T10:20:30", None, "+05:45"),
        (
            'exif:DateTimeOriginal="2023-06-17T10:20:30" xmp:CreateDate="2024-01-01T00:00:00Z"',
            "2023-06-17T10:20:30",
            None,
            None,
        ),
    ],
)
def test_a_time_in_xmp_is_read_where_there_is_no_exif(
    written: str, taken: str, subsecond: str | None, offset: str | None
):
    read = told(written)

    assert (read.taken, read.subsecond, read.utc_offset) == (taken, subsecond, offset)
    assert read.readers["taken"] == "XMP"
    assert told(written, exif=ONLY_A_PROGRAM).taken is None  # there it is as likely the time of an edit


def test_satellite_time_in_xmp_tells_the_offset_too():
    read = told('exif:DateTimeOriginal="2023-06-17T10:20:30" exif:GPSTimeStamp="2023-06-17T09:20:28Z"')

    assert (read.gps_utc, read.utc_offset_by_gps) == ("2023-06-17T09:20:28Z", "+01:00")


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ('exif:DateTimeOriginal="2023-02-30T10:00:00"', "taken-impossible"),
        ('exif:GPSLatitude="0,0N" exif:GPSLongitude="0,0E"', "position-zero"),
        ('exif:GPSLatitude="97,0N" exif:GPSLongitude="0,7E"', "position-impossible"),
    ],
)
def test_what_cannot_be_is_unknown_in_xmp_too(written: str, code: str):
    read = told(written)

    assert (read.taken, read.latitude, [w.code for w in read.warnings]) == (None, None, [code])


def test_a_fact_written_as_an_element_or_as_a_value_with_more_to_it_is_read():
    plain = "<exif:FocalLength>354/10</exif:FocalLength>"
    qualified = '<exif:FocalLength rdf:parseType="Resource"><rdf:value>354/10</rdf:value></exif:FocalLength>'

    assert told(elements=plain).focal_mm == told(elements=qualified).focal_mm == 35.4


def test_what_a_packet_says_of_the_picture_s_parts_is_not_said_of_the_picture():
    part = """<xmp:Ingredients><rdf:Bag><rdf:li><rdf:Description tiff:Make="Orrin" exif:FocalLength="4/1">
        <dc:description><rdf:Alt><rdf:li xml:lang="x-default">a logo</rdf:li></rdf:Alt></dc:description>
        </rdf:Description></rdf:li></rdf:Bag></xmp:Ingredients>"""
    read = told(elements=part)

    assert (read.make, read.focal_mm, read.caption) == (None, None, None)


WIDE = ["utf-16-le", "utf-16-be", "utf-32-le", "utf-32-be"]


@pytest.mark.parametrize("coding", WIDE)
@pytest.mark.parametrize("mark", ["", "\ufeff"], ids=["no mark", "mark"])
def test_a_packet_in_wide_characters_is_read_in_any_script(coding: str, mark: str):
    caption = "<dc:description>Кран у шлюза, 機関車</dc:description>"
    packet = made.xmp_packet('tiff:Make="Halden"', caption).decode()
    text = mark + packet.partition("?>")[2].rpartition("<?xpacket")[0]

    read = of_blocks(MetadataBlocks(xmp=text.encode(coding)))

    assert (read.caption, read.make, read.warnings) == ("Кран у шлюза, 機関車", "Halden", ())


def test_an_orientation_in_a_wide_packet_turns_the_picture(tmp_path: Path):
    packet = made.xmp_packet('tiff:Orientation="6"').decode().encode("utf-16-le")
    file = tmp_path / "wharf.jpg"
    scene = made.jpeg_bytes(made.stored_for(6))
    file.write_bytes(
        made.with_segments(scene, made.segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0" + packet))
    )

    assert (pictures.inspect(file).turn, pictures.inspect(file).width) == (6, 120)


def test_a_packet_that_goes_on_in_segments_of_their_own_is_read_whole(tmp_path: Path):
    main = made.xmp_packet('tiff:Make="Halden"')
    keywords = "".join(f"<rdf:li>word {number}</rdf:li>" for number in range(6000))
    rest = made.xmp_packet(elements=f"<dc:subject><rdf:Bag>{keywords}</rdf:Bag></dc:subject>")
    digest = b"0123456789ABCDEF" * 2
    pieces = [
        b"http://ns.adobe.com/xmp/extension/\0"
        + digest
        + len(rest).to_bytes(4, "big")
        + at.to_bytes(4, "big")
        + rest[at : at + 60_000]
        for at in range(0, len(rest), 60_000)
    ]
    assert len(pieces) > 1
    first = b"http://ns.adobe.com/xap/1.0/\0" + main
    file = tmp_path / "many words.jpg"
    segments = [made.segment(0xE1, data) for data in (first, *reversed(pieces))]
    file.write_bytes(made.with_segments(made.jpeg_bytes(made.upright_scene()), *segments))

    read = read_metadata(file)

    assert (read.make, len(read.keywords), read.keywords[5999]) == ("Halden", 6000, "word 5999")


def test_a_packet_whose_second_part_is_incomplete_gives_its_first(tmp_path: Path):
    first = b"http://ns.adobe.com/xap/1.0/\0" + made.xmp_packet('tiff:Make="Halden"')
    cut = (
        b"http://ns.adobe.com/xmp/extension/\0"
        + b"A" * 32
        + (900).to_bytes(4, "big")
        + bytes(4)
        + b"<x:xmpmeta"
    )
    file = tmp_path / "cut.jpg"
    segments = [made.segment(0xE1, data) for data in (first, cut)]
    file.write_bytes(made.with_segments(made.jpeg_bytes(made.upright_scene()), *segments))

    read = read_metadata(file)

    assert (read.make, read.warnings) == ("Halden", ())


def test_a_sidecar_gives_what_the_picture_does_not_tell_and_is_named(tmp_path: Path):
    sidecar = tmp_path / "P5_0412.xmp"
    sidecar.write_bytes(
        made.xmp_packet(
            'exif:FocalLength="50/1" exif:FocalLengthIn35mmFilm="75" exif:GPSAltitude="12/1" exif:GPSImgDirection="90/1" '
            'exif:GPSImgDirectionRef="T" exif:DigitalZoomRatio="2/1" exif:DateTimeOriginal="2023-06-17T10:20:30+01:00"'
        )
    )
    satellite = {
        0x07: (5, [(9, 1), (20, 1), (28, 1)]),
        0x1D: (2, "2023:06:17"),
    }  # and no time of the camera's own
    block = made.exif_block({0x010F: (2, "Halden")}, {0x920A: (5, (35, 1))}, satellite)
    picture = of_blocks(MetadataBlocks(exif=block))

    read = with_sidecar(picture, read_sidecar(sidecar))

    assert (read.make, read.focal_mm, read.focal_35mm, read.altitude_m) == ("Halden", 35, 75, 12)
    assert (read.bearing_deg, read.bearing_reference, read.digital_zoom) == (90, "T", 2)
    assert (read.taken, read.utc_offset) == ("2023-06-17T10:20:30", "+01:00")
    named = {key for key, reader in read.readers.items() if reader == "sidecar"}
    assert named == {
        "focal_35mm", "altitude_m", "bearing_deg", "bearing_reference", "digital_zoom", "taken_as_read", "taken",
        "utc_offset",
    }  # fmt: skip
