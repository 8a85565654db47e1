"""A photo as it comes from a phone, and as it is kept: a JPEG of which only the picture is left.

Nothing is decoded here. What a JPEG needs to be drawn is copied segment by segment (ITU-T T.81, annex B),
each checked for the length that its own content calls for; all else is left out: where and with what the
photo was taken (EXIF), comments, previews, and whatever stands behind its end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from monitor.errors import UsageError

MOST_KB, MOST_SMALL_KB = 300, 6
"""Own choice: a photo of 1,600 dots is sharp enough for a find in a bin, and needs 150 to 300 kB; the small
one stands in a list, of which eight may not make a page heavy."""
_START, _END = b"\xff\xd8", b"\xff\xd9"
# What is written in place of all that was there before the picture: JFIF 1.01, without a preview of its own.
_JFIF = bytes.fromhex("ffe000104a46494600010100000100010000")
_FRAMES = frozenset({0xC0, 0xC1, 0xC2})
_OTHER_FRAMES = frozenset({0xC3, 0xC5, 0xC6, 0xC7, 0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF})
_HUFFMAN, _QUANTIZATION, _SCAN, _INTERVAL = 0xC4, 0xDB, 0xDA, 0xDD
_NOT_INSIDE = frozenset({0x01, *range(0xD0, 0xD9)})
_MOST_SCANS = 40
"""Own choice: usual progressive ones have about ten; each costs the phone that shows it a whole pass."""


@dataclass(frozen=True, slots=True)
class PhotoLimits:
    """How large a photo may be: in bytes, and in dots along its longer side and in all."""

    most_bytes: int
    side: int
    dots: int


FULL_SIZE = PhotoLimits(MOST_KB * 1000, 4800, 13_000_000)
"""Own choice. What is drawn takes four bytes a dot on the phone that looks at it."""
SMALL_SIZE = PhotoLimits(MOST_SMALL_KB * 1000, 240, 240 * 240)


@dataclass(frozen=True, slots=True)
class Photo:
    """A JPEG that holds a picture and nothing else, with its size in dots."""

    content: bytes
    width: int
    height: int


def cleaned(content: bytes, limits: PhotoLimits = FULL_SIZE) -> Photo:
    """The photo without anything but its picture; UsageError for what is no whole JPEG within the limits."""
    refuse_too_large(len(content), limits)
    if not content.startswith(_START):
        raise no_jpeg()
    size, scans, kept = None, 0, [_START, _JFIF]
    for marker, segment in _segments(content):
        if marker in _FRAMES and size is None:
            size = _size_of(segment, limits)
        elif marker == _SCAN and size is not None:
            scans += 1
        elif marker not in (_HUFFMAN, _QUANTIZATION, _INTERVAL):
            raise no_jpeg()
        kept.append(segment)
    if size is None or not 0 < scans <= _MOST_SCANS:
        raise _damaged()
    return Photo(b"".join((*kept, _END)), *size)


def refuse_too_large(size: int, limits: PhotoLimits = FULL_SIZE) -> None:
    """Raise UsageError for more bytes than are taken."""
    if size > limits.most_bytes:
        raise UsageError(
            "the photo is too large; at most {most} kB are taken. Where the page may run scripts, the phone "
            "makes it smaller by itself; else choose a smaller photo, or write the entry without one",
            most=limits.most_bytes // 1000,
        )


def no_jpeg() -> UsageError:
    """For what is no photo as phones make it."""
    return UsageError(
        "this is no photo that can be kept: JPEG is taken, as cameras of phones make it. Choose another one, "
        "or write the entry without one"
    )


def _damaged() -> UsageError:
    return UsageError("the photo is not whole: it was damaged or cut off on its way. Choose it again")


def _segments(content: bytes) -> Iterator[tuple[int, bytes]]:
    """What a JPEG needs to be drawn, up to its end; a scan with the data that follows it."""
    at = len(_START)
    while True:
        marker, at = _marker_at(content, at)
        if marker == _END[1]:
            return
        if marker in _NOT_INSIDE or marker in _OTHER_FRAMES:
            raise no_jpeg()
        end = at + int.from_bytes(content[at : at + 2], "big")
        if end < at + 2 or end > len(content):
            raise _damaged()
        if _is_needed(marker):
            _refuse_padded(marker, content[at + 2 : end])
            end = _end_of_data(content, end) if marker == _SCAN else end
            yield marker, b"\xff" + bytes([marker]) + content[at:end]
        at = end


def _marker_at(content: bytes, at: int) -> tuple[int, int]:
    """The marker that stands there, and where what follows it begins."""
    if content[at : at + 1] != b"\xff":
        raise _damaged()
    while content[at : at + 1] == b"\xff":
        at += 1
    if at >= len(content):
        raise _damaged()
    return content[at], at + 1


def _is_needed(marker: int) -> bool:
    return marker in _FRAMES or marker in (_HUFFMAN, _QUANTIZATION, _SCAN, _INTERVAL)


def _refuse_padded(marker: int, body: bytes) -> None:
    """Raise UsageError for a segment in which there is more, or less, than what it is for."""
    match marker:
        case 0xC4:
            right = _ends_with_tables(body, lambda at: 17 + sum(body[at + 1 : at + 17]))
        case 0xDB:
            right = _ends_with_tables(body, lambda at: 65 + 64 * (body[at] >> 4))
        case 0xDA:
            right = len(body) > 0 and len(body) == 4 + 2 * body[0]
        case 0xDD:
            right = len(body) == 2
        case _:
            right = len(body) > 5 and len(body) == 6 + 3 * body[5]
    if not right:
        raise _damaged()


def _ends_with_tables(body: bytes, length_at: Callable[[int], int]) -> bool:
    at = 0
    while at < len(body):
        at += length_at(at)
    return at == len(body) > 0


def _end_of_data(content: bytes, at: int) -> int:
    """Where the data of a scan ends: at the first marker that is neither a restart nor a stuffed byte."""
    while True:
        at = content.find(b"\xff", at)
        if at < 0 or at + 1 >= len(content):
            raise _damaged()
        if content[at + 1] != 0x00 and not 0xD0 <= content[at + 1] <= 0xD7:
            return at
        at += 2


def _size_of(frame: bytes, limits: PhotoLimits) -> tuple[int, int]:
    """Width and height by the header of the frame, which stands behind marker and length."""
    precision, colours = frame[4], frame[9]
    height, width = (int.from_bytes(frame[at : at + 2], "big") for at in (5, 7))
    if precision != 8 or colours not in (1, 3) or not width or not height:
        raise no_jpeg()
    if max(width, height) > limits.side or width * height > limits.dots:
        raise UsageError(
            "the photo has {width} × {height} dots; at most {side} on its longer side are taken. Choose a "
            "smaller one, or write the entry without one",
            width=width,
            height=height,
            side=limits.side,
        )
    return width, height
