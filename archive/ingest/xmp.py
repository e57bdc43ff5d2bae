"""Read an XMP packet (ISO 16684-1), from within a picture or from a sidecar; XML is hostile until read."""

from __future__ import annotations

import re
from collections.abc import Iterable
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
_BLANK = b"\0 \t\r\n"
_WIDE = (
    (b"\xff\xfe\0\0", "utf-32-le"),
    (b"<\0\0\0", "utf-32-le"),
    (b"\0\0\xfe\xff", "utf-32-be"),
    (b"\0\0\0<", "utf-32-be"),
    (b"\xff\xfe", "utf-16-le"),
    (b"<\0", "utf-16-le"),
    (b"\xfe\xff", "utf-16-be"),
    (b"\0<", "utf-16-be"),
)


@dataclass(frozen=True, slots=True)
class Xmp:
    """What a packet says: its texts, and its plain properties by prefixed name ('exif:DateTimeOriginal')."""

    texts: Texts = field(default_factory=Texts)
    properties: dict[str, str] = field(default_factory=dict)
    damaged: bool = False


def read_xmp(*packets: bytes) -> Xmp:
    """Read a packet and what goes on in others; never raises. A first one that is no well-formed XML is `damaged`."""
    roots = [_parsed(packet) for packet in packets]
    if not roots or roots[0] is None:
        return Xmp(damaged=any(packet.strip(_BLANK) for packet in packets[:1]))
    attributes, elements = _properties(root for root in roots if root is not None)
    properties: dict[str, str] = {}
    for name, value in [
        *attributes.items(),
        *((tag, "".join(_items(element)[:1])) for tag, element in elements.items()),
    ]:
        namespace, _, local = name.rpartition("}")
        prefix, text = _PREFIXES.get(namespace + "}"), clean(value)
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


def _properties(roots: Iterable[Element]) -> tuple[dict[str, str], dict[str, Element]]:
    """The properties of the picture itself, as attributes and as elements: what lies deeper is of other things, such as its parts."""
    attributes: dict[str, str] = {}
    elements: dict[str, Element] = {}
    for root in roots:
        rdf = root if root.tag == f"{_RDF}RDF" else root.find(f".//{_RDF}RDF")
        for description in rdf.findall(f"{_RDF}Description") if rdf is not None else ():
            attributes = {**description.attrib, **attributes}
            for element in description:
                elements.setdefault(element.tag, element)
    return attributes, elements


def _items(element: Element) -> list[str]:
    """The texts of a property: the items of a list, the default language first; else its own text."""
    items = list(element.iter(f"{_RDF}li"))
    if not items:
        return ["".join(element.itertext())]
    items.sort(key=lambda item: item.get(_LANGUAGE, "x-default") != "x-default")  # stable: order stays
    return ["".join(item.itertext()) for item in items]


def _parsed(packet: bytes) -> Element | None:
    from defusedxml import ElementTree as SafeTree
    from defusedxml.common import DefusedXmlException

    if len(packet) > _MOST_BYTES:
        return None
    whole = _wide_text(packet) or packet.strip(_BLANK)
    for candidate in (whole, _trimmed(whole)):
        try:
            root: Element = SafeTree.fromstring(candidate, forbid_dtd=True)
        except (ParseError, DefusedXmlException, ValueError, LookupError):
            continue
        return root
    return None


def _wide_text(packet: bytes) -> str | None:
    """The text of a packet in UTF-16 or UTF-32, which its first character tells (ISO 16684-1, 7.3.2); else None."""
    begins = packet.lstrip(b"\0\xfe\xff")[:1] == b"<"
    for mark, encoding in _WIDE:
        if begins and packet.startswith(mark):
            return packet.decode(encoding, "replace").strip("\ufeff\0 \t\r\n")
    return None


def _trimmed(packet: bytes | str) -> str:
    """The packet without what some writers leave around and within it: padding, NULs, stray controls."""
    text = packet if isinstance(packet, str) else decoded_text(packet)
    found = re.search(r"<(x:xmpmeta|rdf:RDF)\b.*</\1\s*>", text, re.DOTALL)
    return re.sub(r"[\x00-\x08\x0b\x0c\x0e-\x1f]", "", found[0] if found else text)
