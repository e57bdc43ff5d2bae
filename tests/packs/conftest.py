"""A pack's worth of sample content: two subjects of Wendle Basin, their sizes and the demo photographs."""

from __future__ import annotations

from datetime import date, datetime
from fractions import Fraction
from pathlib import Path

import pytest

from archive import wording
from archive.carried import carried_folder
from archive.packs.content import (
    ModelSize,
    PackContent,
    PackPhoto,
    PackSighting,
    PackSize,
    PackSubject,
)
from archive.packs.sheets import PictureFile
from archive.records.things import Warned

HUT, CRANE = "Weighbridge hut", "Wharf crane"
RATIO = Fraction(3048, 70)  # 7 mm to the foot

# file, subject, view, caption, upright width and height in pixels
PHOTOS = (
    ("P5_20230617_101431.jpg", HUT, "front", "Door shut; the sill is one stone", 1600, 1200),
    ("HC20_0412.JPG", HUT, "right side", None, 1500, 1000),
    ("P5_20230617_101510.jpg", HUT, "three-quarter", None, 1600, 1200),
    ("HC20_1187.JPG", HUT, "detail", "Chimney and ridge", 1500, 1000),
    ("P5_screen_20240908_150630.png", HUT, "front", "Phone screen with its own reading", 600, 1240),
    ("HC20_0415.JPG", CRANE, "right side", "Jib at rest", 1500, 1000),
    ("P5_20230617_103205.jpg", CRANE, "three-quarter", "From the quay edge", 1200, 1600),
    ("P5_20240908_151258.jpg", CRANE, "rear", None, 1600, 1200),
    ("HC20_0416.JPG", CRANE, "detail", "Gear wheel and crank", 1500, 1000),
    ("P5_20240908_151130.jpg", CRANE, "detail", "Post foot and base bolts", 1600, 1200),
)


def size(subject: str, label: str, real_mm: float, u_mm: float, **more) -> PackSize:
    """One length of the sample, phrased as every door does."""
    low, high = real_mm - 2 * u_mm, real_mm + 2 * u_mm
    model_mm, model_interval = float(real_mm / RATIO), (float(low / RATIO), float(high / RATIO))
    model = ModelSize(
        wording.size("length", model_mm, model_interval), model_mm, float(u_mm / RATIO), model_interval
    )
    usual = {"source_text": "long tape, 17 June 2023", "grade": "measured"}
    return PackSize(
        subject,
        label,
        wording.size("length", real_mm, (low, high)),
        real_mm,
        imperial_text=wording.other_system("length", real_mm, (low, high)),
        model=model,
        u=u_mm,
        interval_95=(low, high),
        **{**usual, **more},
    )


SIZES = (
    size(HUT, "front width", 2733.7, 3.0, as_written=("8ft 11 5/8in",)),
    size(HUT, "door height", 1760.3, 3.0, as_written=("5'9¼\"",)),
    size(
        HUT,
        "eaves height",
        2184.0,
        25.0,
        grade="worked out",
        source_text="plane from 4 marks on HC20_0412, door height",
    ),
    size(
        HUT,
        "door width",
        835.0,
        2.0,
        as_written=("2'9\"", "83.5 cm"),
        source_text="long tape, 17 June 2023; folding rule, 8 September 2024",
        warnings=(Warned("readings-disagree", "the folding rule reads 12 mm more than the long tape."),),
    ),
    PackSize(
        HUT,
        "board count",
        "5",
        5.0,
        source_text="counted on HC20_0412, 17 June 2023",
        grade="measured",
        as_written=("5",),
        quantity="count",
        unit="1",
    ),
    size(CRANE, "post height", 2743.2, 10.0, as_written=("9ft",), state="1962", span="over"),
    size(CRANE, "jib length", 5638.8, 12.0, as_written=("18ft 6in",)),
)


@pytest.fixture
def photos_folder() -> Path:
    return carried_folder("demo_library") / "photos"


@pytest.fixture
def content(photos_folder: Path) -> PackContent:
    photos = tuple(
        PackPhoto(
            id=f"p{number:010d}",
            name=name,
            original=photos_folder / name,
            width=width,
            height=height,
            sightings=(PackSighting(subject, view),),
            caption=caption,
            taken=datetime(2023, 6, 17, 10, 12, 4),
            visit="Wendle Basin, June",
            creator="A. Penrose",
            rights="© A. Penrose, for modelling only",
        )
        for number, (name, subject, view, caption, width, height) in enumerate(PHOTOS)
    )
    return PackContent(
        build="Wendle Basin wharf",
        scale_text="7 mm to the foot (1:43.5)",
        ratio=RATIO,
        subjects=(
            PackSubject(
                HUT, "weighbridge hut", era="1870s", place="Wendle Basin", visits=("Wendle Basin, June",)
            ),
            PackSubject(
                CRANE,
                "hand crane",
                maker="Harrow & Sleight, Low Wendle",
                era="1868",
                place="Wendle Basin",
                visits=("Wendle Basin, June", "Wendle Basin, September"),
                notes="The jib was rebuilt in ash in 1994, a little shorter than the old one. Chain on the "
                "second drum is a copy. Grease everywhere, so the tape was held off the gear by a finger.",
            ),
        ),
        sizes=SIZES,
        photos=photos,
        made_on=date(2024, 9, 12),
        program_version="0.1.0",
        process="resin",
        tolerance_mm=0.2,
        tolerance_text="0.2 mm",
    )


@pytest.fixture
def pictures(content: PackContent, tmp_path: Path) -> dict[str, PictureFile]:
    """The sample's photos as upright JPEGs of all their pixels."""
    from PIL import Image, ImageOps

    found = {}
    for photo in content.photos:
        with Image.open(photo.original) as image:
            upright = ImageOps.exif_transpose(image).convert("RGB")
        file = tmp_path / f"{photo.id}.jpg"
        upright.save(file, quality=90)
        found[photo.id] = PictureFile(file, *upright.size)
    return found
