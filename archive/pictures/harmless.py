"""The few facts that may travel with a copy of a photo, as an XMP packet (ISO 16684-1)."""

from __future__ import annotations

from collections.abc import Mapping
from xml.sax.saxutils import escape

_FORMS = {
    "caption": '<dc:description><rdf:Alt><rdf:li xml:lang="x-default">{}</rdf:li></rdf:Alt></dc:description>',
    "creator": "<dc:creator><rdf:Seq><rdf:li>{}</rdf:li></rdf:Seq></dc:creator>",
    "rights": '<dc:rights><rdf:Alt><rdf:li xml:lang="x-default">{}</rdf:li></rdf:Alt></dc:rights>',
    "date": "<photoshop:DateCreated>{}</photoshop:DateCreated>",
}
_MOST_CHARACTERS = 10_000  # each; a JPEG segment holds 65,502 bytes of packet


def harmless_packet(keep: Mapping[str, str]) -> bytes:
    """The packet for 'caption', 'creator', 'rights' and 'date'; b'' when nothing is kept."""
    if unknown := set(keep) - set(_FORMS):
        raise ValueError(
            f"a copy may keep caption, creator, rights and date, not {', '.join(sorted(unknown))}"
        )
    properties = "".join(
        form.format(escape(_cut(keep[key]))) for key, form in _FORMS.items() if keep.get(key)
    )
    if not properties:
        return b""
    return (
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        '<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/"'
        f' xmlns:photoshop="http://ns.adobe.com/photoshop/1.0/">{properties}</rdf:Description></rdf:RDF></x:xmpmeta>'
    ).encode()


def _cut(text: str) -> str:
    kept = "".join(character for character in text if character >= " " or character in "\t\n\r")
    data = kept.encode("utf-8", "ignore")[:_MOST_CHARACTERS]
    return data.decode("utf-8", "ignore")
