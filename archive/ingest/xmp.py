"""Read an XMP packet (ISO 16684-1), from within a picture or from a sidecar; XML is hostile until read."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element, ParseError

from archive.ingest.iptc import Texts
from archive.ingest.words import clean, decoded_text

_RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
_DC = "{http://purl.org/dc/elements/1.1/}"
_LANGUAGE = "{http://www.w3.org/XML/1998/namespace}lang"
_PREFIXES = {
    "{http://ns.adobe.com/exif/1.0/}": "exif",
    "{http://cipa.jp/exif/1.0/}": "exifEX",
    "{http://ns.adobe.com/tiff/1.0/}": "tiff",
    "{http://ns.adobe.com/xap/1.0/}": "xmp",
    "{http://ns.adobe.com/photoshop/1.0/}": "photoshop",
}
_MOST_BYTES = 4 << 20


@dataclass(frozen=True, slots=True)
class Xmp:
    """What a packet says: its texts, and its plain properties by prefixed name ('exif:DateTimeOriginal')."""

    texts: Texts = field(default_factory=Texts)
    properties: dict[str, str] = field(default_factory=dict)
    damaged: bool = False


def read_xmp(packet: bytes) -> Xmp:
    """Read a packet; never raises. One that is no well-formed XML, or declares entities, is `damaged`."""
    root = _parsed(packet)
    if root is None:
        return Xmp(damaged=bool(packet.strip(b"\0 \t\r\n")))
    properties: dict[str, str] = {}
    elements: dict[str, Element] = {}
    attributes: dict[str, str] = {}
    for description in root.iter(f"{_RDF}Description"):
        attributes = {**description.attrib, **attributes}
        for element in description:
            elements.setdefault(element.tag, element)
    for name, value in [
        *attributes.items(),
        *((tag, _items(element)[:1]) for tag, element in elements.items()),
    ]:
        text = clean(value if isinstance(value, str) else "".join(value))
        namespace, _, local = name.rpartition("}")
        prefix = _PREFIXES.get(namespace + "}")
        if prefix and text:
            properties.setdefault(f"{prefix}:{local}", text)

    def all_of(name: str) -> list[str]:
        element = elements.get(_DC + name)
        found = _items(element) if element is not None else [attributes.get(_DC + name, "")]
        return [text for text in map(clean, found) if text]

    captions, rights = all_of("description"), all_of("rights")
    texts = Texts(
        caption=captions[0] if captions else None,
        keywords=tuple(dict.fromkeys(all_of("subject"))),
        creator=", ".join(all_of("creator")) or None,
        rights=rights[0] if rights else None,
    )
    return Xmp(texts, properties)


def _items(element: Element) -> list[str]:
    """The texts of a property: the items of a list, the default language first; else its own text."""
    items = list(element.iter(f"{_RDF}li"))
    if not items:
        return [element.text or ""]
    items.sort(key=lambda item: item.get(_LANGUAGE, "x-default") != "x-default")  # stable: order stays
    return ["".join(item.itertext()) for item in items]


def _parsed(packet: bytes) -> Element | None:
    from defusedxml import ElementTree as SafeTree
    from defusedxml.common import DefusedXmlException

    if len(packet) > _MOST_BYTES:
        return None
    for candidate in (packet.strip(b"\0 \t\r\n"), _trimmed(packet)):
        try:
            root: Element = SafeTree.fromstring(candidate, forbid_dtd=True)
        except (ParseError, DefusedXmlException, ValueError, LookupError):
            continue
        return root
    return None


def _trimmed(packet: bytes) -> bytes:
    """The packet without what some writers leave around and within it: padding, NULs, stray controls."""
    found = re.search(rb"<(x:xmpmeta|rdf:RDF)\b.*</\1\s*>", packet, re.DOTALL)
    inner = found[0] if found else packet
    return decoded_text(re.sub(rb"[\x00-\x08\x0b\x0c\x0e-\x1f]", b"", inner)).encode()
