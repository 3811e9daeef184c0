"""The MusicXML 4.0 schema that music21 carries, with the two W3C schemas it imports written out (offline)."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

import music21
from lxml import etree

_HEAD = '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="{}" xmlns="{}">{}</xs:schema>'
_STUBS = {
    "xml.xsd": ("http://www.w3.org/XML/1998/namespace", ("lang", "space")),
    "xlink.xsd": ("http://www.w3.org/1999/xlink", ("href", "type", "role", "title", "show", "actuate")),
}
"""Only the attributes' names: their values are not what these tests are about."""


class _Offline(etree.Resolver):
    def resolve(self, url: str, pubid: str, context: Any) -> Any:
        name = url.rsplit("/", 1)[-1]
        if name not in _STUBS:
            return None
        space, attributes = _STUBS[name]
        body = "".join(f'<xs:attribute name="{attribute}" type="xs:string"/>' for attribute in attributes)
        return self.resolve_string(_HEAD.format(space, space, body), context)


@lru_cache(maxsize=1)
def musicxml_schema() -> Any:
    parser = etree.XMLParser()
    parser.resolvers.add(_Offline())
    path = Path(music21.__file__).parent / "musicxml" / "musicxml.xsd"
    return etree.XMLSchema(etree.parse(str(path), parser))


def schema_errors(text: str) -> list[str]:
    """What the schema says against a MusicXML text (without its document type)."""
    body = text.split("\n", 2)[2]
    schema = musicxml_schema()
    schema.validate(etree.fromstring(body))
    return [str(error) for error in schema.error_log]
