"""The record that a proof carries, so that a design can be held against it later.

It is JSON in base64 between two marks: in the XMP packet of a PDF, which tools keep readable as
they save, and in a `meta` element of an HTML file. It guards against mix-ups, not against somebody
who sets out to forge it.
"""

from __future__ import annotations

import base64
import json
import re
import zlib
from dataclasses import asdict
from html import escape
from typing import TYPE_CHECKING, Any

from render.proof.fingerprints import Fingerprints, unpack

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.proof.account import ProofAccount

MARK = "twillight-record"
VERSION = 1
_CARRIED = re.compile(rb"twillight-record:([A-Za-z0-9+/=]+):")
_STREAM = re.compile(rb"stream\r?\n")
MOST_UNPACKED_BYTES = 64_000_000  # of all streams together: a proof that was saved again has a few million


def record_of(account: ProofAccount) -> dict[str, Any]:
    """What is carried: fingerprints with the stitches themselves, settings, and words for them."""
    return {
        "version": VERSION,
        "name": account.name,
        "revision": account.order.revision,
        "width_mm": round(account.width_mm, 2),
        "height_mm": round(account.height_mm, 2),
        "stitches": account.stitches,
        "fingerprints": asdict(account.fingerprints),
        "settings": account.settings,
    }


def record_text(account: ProofAccount) -> str:
    """The record as ASCII between its marks, for any file that holds text."""
    plain = json.dumps(record_of(account), ensure_ascii=True, separators=(",", ":"), sort_keys=True)
    return f"{MARK}:{base64.b64encode(plain.encode('ascii')).decode('ascii')}:"


def xmp_packet(title: str, language: str, record: str) -> str:
    """XMP metadata with the title and the record."""
    return (
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        '<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/"'
        ' xmlns:proof="urn:twillight:proof:1">'
        f'<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{escape(title)}</rdf:li></rdf:Alt></dc:title>'
        f"<dc:language><rdf:Bag><rdf:li>{escape(language)}</rdf:li></rdf:Bag></dc:language>"
        f"<proof:record>{record}</proof:record>"
        "</rdf:Description></rdf:RDF></x:xmpmeta>"
    )


def find_record(data: bytes) -> dict[str, Any] | None:
    """The record in the bytes of a proof; None where there is none that can be read."""
    found = _CARRIED.search(data)
    if found is None:  # a tool may have packed the metadata on saving
        found = next((hit for hit in map(_CARRIED.search, _unpacked(data)) if hit), None)
    if found is None:
        return None
    try:
        record = json.loads(base64.b64decode(found[1], validate=True))
        if not isinstance(record, dict) or record["version"] != VERSION:
            return None
        _checked(record)
    except (ValueError, KeyError, TypeError, RecursionError):
        return None
    return record


def fingerprints_in(record: dict[str, Any]) -> Fingerprints:
    """The fingerprints of a record that `find_record` gave."""
    values = record["fingerprints"]
    return Fingerprints(**{**values, "halts": tuple(values["halts"])})


def _checked(record: dict[str, Any]) -> None:
    """Raises KeyError, TypeError or ValueError where a record is not as `record_of` makes it."""
    prints = fingerprints_in(record)
    texts = (record["name"], record["revision"], prints.file, prints.stitches, prints.path)
    numbers = (record["stitches"], prints.points, *prints.halts)
    settings = record["settings"]
    if not all(isinstance(one, str) for one in (*texts, *settings, *settings.values())):
        raise TypeError("text expected")
    if not all(isinstance(one, int) and 0 <= one < 10**9 for one in numbers):
        raise TypeError("whole numbers expected")
    if prints.points < 1:
        raise ValueError("a design has needle points")
    unpack(prints.path, prints.points)
    for key in ("width_mm", "height_mm"):
        record[key] = float(record[key])


def _unpacked(data: bytes) -> Iterator[bytes]:
    """The deflated streams of a PDF that unpack, one after the other, up to 64 MB in all."""
    left = MOST_UNPACKED_BYTES
    for part in data.split(b"endstream"):
        begin = _STREAM.search(part)
        if begin is None:
            continue
        try:
            unpacked = zlib.decompressobj().decompress(part[begin.end() :], left)
        except zlib.error:
            continue
        yield unpacked
        left -= len(unpacked)
        if left <= 0:
            return
