"""What is likely of a picture that comes in, and what its owner may do about it. Hints never stop or change anything."""

from __future__ import annotations

import re

from archive.ingest.metadata import PhotoMetadata
from archive.pictures import PictureFacts, PictureWarning

# What messengers and websites make of a photo is at most so large; cameras have made larger ones for twenty years.
_COPY_PX = 2560
_SCREEN_NAME = re.compile(
    r"screen[ _-]?(?:shot|cap|grab)|(?:^|[ _-])screen(?:[ _-]|$)|bildschirmfoto|capture d.?[ée]cran|captura de pantalla"
    r"|schermafbeelding|schermata|skjermbilde|sk[aä]rmavbild|zrzut ekranu|снимок экрана|スクリーンショット|屏幕截图|截屏",
    re.IGNORECASE,
)


def hint(name: str, facts: PictureFacts, metadata: PhotoMetadata) -> PictureWarning | None:
    """Return what is likely of a picture of this name, if anything: a picture of a screen, or a shrunk copy."""
    if facts.width is None or facts.height is None or facts.paper_mm is not None:
        return None
    if metadata.is_of_screen or _SCREEN_NAME.search(name):
        return PictureWarning(
            "picture-of-screen",
            "It is a picture of a screen. Where it shows a figure, write that down with the picture as evidence: "
            f"rivetbook size add SUBJECT LABEL SIZE --with phone --photo '{name}'",
        )
    says_its_camera = metadata.make or metadata.model or metadata.lens or metadata.focal_mm
    shrunk = max(facts.width, facts.height) <= _COPY_PX and facts.format in ("JPEG", "WEBP")
    if shrunk and not says_its_camera:
        return PictureWarning(
            "likely-copy",
            f"It is small ({facts.width} × {facts.height}) and does not name its camera: most likely a copy made "
            "smaller on its way. The original is better to measure on; import that too if it can be had.",
        )
    return None
