"""What a photo says of itself: the day it was taken, which is shown, and the place, which is not kept.

Source: Exif 2.32 (CIPA DC-008, 2019): 4.6.2 how fields are laid out, 4.6.3 pointers to the Exif and GPS fields.
"""

from __future__ import annotations

import io
import re
import struct
import zlib
from collections.abc import Callable
from datetime import date, datetime
from typing import Final

from .small_photos import can_show_heic

_EXIF, _GPS, _ORIGINAL, _CHANGED = 0x8769, 0x8825, 0x9003, 0x0132
_SIZES: Final = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8}
# Where fields begin: after "Exif" in JPEG and HEIC, after the name of their piece in PNG and WebP.
_FIELDS: Final = re.compile(rb"(?:Exif\0\0|eXIf|EXIF.{4})(?=II\*\0|MM\0\*)", re.DOTALL)
_IN_XMP: Final = re.compile(rb"\bexif:GPS\w{1,40}\s?=\s?\"[^\"]{0,200}\"|<exif:GPS\w{1,40}>[^<]{0,200}<")
_MOST: Final = 400


def taken_on(content: bytes) -> date | None:
    """The day a photo was taken, by its own word; None if it does not say.

    Parameters
    ----------
    content : of a JPEG, PNG, WebP or HEIC file
    """
    from PIL import Image

    can_show_heic()
    try:
        with Image.open(io.BytesIO(content)) as opened:
            fields = opened.getexif()
            text = fields.get_ifd(_EXIF).get(_ORIGINAL) or fields.get(_CHANGED) or ""
        return datetime.strptime(str(text)[:10], "%Y:%m:%d").date()
    except Exception:  # a damaged picture fails in many ways; that it has no day is all that matters here
        return None


def without_place(content: bytes) -> bytes:
    """A photo without the place it was taken at; all else of it stays as it is, to the byte.

    Parameters
    ----------
    content : of a JPEG, PNG, WebP or HEIC file
    """
    found = bytearray(content)
    for match in _FIELDS.finditer(content):
        _blank_place(found, match.end())
    for match in _IN_XMP.finditer(content):
        found[match.start() : match.end()] = _blanked(match[0])
    if content.startswith(b"\x89PNG") and found != content:
        _check_again(found)
    return bytes(found) if found != content else content


def _blanked(text: bytes) -> bytes:
    """A property of as many bytes that says nothing."""
    if text.startswith(b"<"):
        head, _, _ = text.partition(b">")
        return head + b">" + b" " * (len(text) - len(head) - 2) + b"<"
    return b" " * len(text)


def _blank_place(found: bytearray, start: int) -> None:
    """Empty the GPS fields of the fields that begin at a place; what can't be followed is left."""
    order = "<" if found[start : start + 2] == b"II" else ">"

    def number(kind: str, at: int) -> int:
        return int(struct.unpack_from(order + kind, found, start + at)[0])

    try:
        at = number("I", 4)
        for _ in range(3):  # the picture's fields, then those of its small picture
            count = number("H", at)
            if not at or count > _MOST:
                return
            for entry in range(at + 2, at + 2 + 12 * count, 12):
                if number("H", entry) == _GPS:
                    _empty(found, start, number("I", entry + 8), number)
            at = number("I", at + 2 + 12 * count)
    except struct.error:
        return


def _empty(found: bytearray, start: int, at: int, read: Callable[[str, int], int]) -> None:
    """Overwrite fields, and what they point at, with nothing."""
    count = read("H", at)
    if count > _MOST or start + at + 2 + 12 * count > len(found):
        return
    for entry in range(at + 2, at + 2 + 12 * count, 12):
        size = _SIZES.get(read("H", entry + 2), 1) * read("I", entry + 4)
        where = start + read("I", entry + 8)
        if 4 < size < 65536 and where + size <= len(found):
            found[where : where + size] = bytes(size)
    found[start + at : start + at + 2 + 12 * count] = bytes(2 + 12 * count)


def _check_again(found: bytearray) -> None:
    """Write the check sums of a PNG file's pieces anew."""
    at = 8
    while at + 12 <= len(found):
        size = int.from_bytes(found[at : at + 4], "big")
        end = at + 8 + size
        if end + 4 > len(found):
            return
        found[end : end + 4] = zlib.crc32(bytes(found[at + 4 : end])).to_bytes(4, "big")
        at = end + 4
