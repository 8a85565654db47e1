"""A photo is kept without anything but its picture, or it is refused with the reason."""

from __future__ import annotations

import pytest
from photo_files import (
    AC_TABLE,
    DC_TABLE,
    END,
    GPS,
    QUANTIZATION,
    SCAN,
    START,
    exif,
    frame,
    jpeg,
    markers,
    segment,
)

from monitor.errors import UsageError
from monitor.logbook.photos import FULL_SIZE, SMALL_SIZE, PhotoLimits, cleaned

HTML = b"<html><script>alert(1)</script>"
PICTURE = [0xD8, 0xE0, 0xDB, 0xC0, 0xC4, 0xC4, 0xDA, 0xD9]


def test_only_the_picture_is_left() -> None:
    metadata = (
        exif() + segment(0xFE, HTML) + segment(0xED, b"Photoshop 3.0\x00place") + segment(0xE2, b"MPF\x00")
    )
    photo = cleaned(jpeg(640, 480, before=metadata, after=b"\x00" * 9 + jpeg()))
    assert (photo.width, photo.height) == (640, 480)
    assert markers(photo.content) == PICTURE
    for secret in (b"Exif", GPS, HTML, b"Photoshop", b"MPF", b"phone of somebody"):
        assert secret not in photo.content
    assert cleaned(photo.content).content == photo.content


def test_the_picture_itself_is_not_touched() -> None:
    plain = jpeg(64, 48)
    assert cleaned(plain).content[20:] == plain[2:]


@pytest.mark.parametrize("marker", [0xC0, 0xC1, 0xC2])
def test_usual_kinds_of_jpeg_are_taken(marker: int) -> None:
    scans = SCAN + b"\x00" * 5 + b"\xff\x00\xff\xd3" + b"\x01" + AC_TABLE + SCAN + b"\x02"
    content = START + QUANTIZATION + frame(8, 8, marker) + segment(0xDD, b"\x00\x04") + DC_TABLE + scans + END
    assert markers(cleaned(content).content).count(0xDA) == 2


WHOLE = jpeg(64, 48, before=exif())


@pytest.mark.parametrize("length", [3, 30, len(exif()) + 10, len(WHOLE) // 2, len(WHOLE) - 2, len(WHOLE) - 1])
def test_a_photo_that_was_cut_off_is_refused(length: int) -> None:
    with pytest.raises(UsageError, match="not whole"):
        cleaned(WHOLE[:length])


@pytest.mark.parametrize(
    "content",
    [
        b"",
        HTML,
        b"GIF89a" + HTML,
        b"\x89PNG\r\n\x1a\n" + bytes(50),
        START + START + jpeg()[2:],
        START + QUANTIZATION + frame(8, 8, 0xC3) + SCAN + END,
        START + QUANTIZATION + frame(8, 8) + frame(9, 9) + SCAN + END,
        START + QUANTIZATION + SCAN + frame(8, 8) + END,
        START + QUANTIZATION + frame(0, 8) + SCAN + END,
        START + QUANTIZATION + segment(0xC0, b"\x0c\x00\x08\x00\x08\x01\x01\x11\x00") + SCAN + END,
    ],
)
def test_what_is_no_photo_is_refused(content: bytes) -> None:
    with pytest.raises(UsageError, match="JPEG is taken"):
        cleaned(content)


@pytest.mark.parametrize(
    "content",
    [
        START + END,
        START + QUANTIZATION + frame(8, 8) + END,
        START + segment(0xDB, b"\x00" + bytes(64) + HTML) + frame(8, 8) + SCAN + END,
        START + segment(0xC4, b"\x00" + bytes(16) + HTML) + frame(8, 8) + SCAN + END,
        START + QUANTIZATION + segment(0xC0, b"\x08\x00\x08\x00\x08\x01\x01\x11\x00" + HTML) + SCAN + END,
        START + QUANTIZATION + frame(8, 8) + segment(0xDA, b"\x01\x01\x00\x00\x3f\x00" + HTML) + END,
        START + QUANTIZATION + frame(8, 8) + segment(0xDD, b"\x00\x04" + HTML) + SCAN + END,
        START + b"\xff\xe1\x00\x01" + jpeg()[2:],
        START + QUANTIZATION + frame(8, 8) + (SCAN + b"\x00") * 41 + END,
    ],
)
def test_what_hides_something_or_lacks_something_is_refused(content: bytes) -> None:
    with pytest.raises(UsageError, match="not whole"):
        cleaned(content)


@pytest.mark.parametrize(
    ("width", "height", "limits", "taken"),
    [
        (4800, 16, FULL_SIZE, True),
        (4801, 16, FULL_SIZE, False),
        (65535, 65535, FULL_SIZE, False),
        (4000, 3250, FULL_SIZE, True),
        (4000, 3251, FULL_SIZE, False),
        (240, 240, SMALL_SIZE, True),
        (241, 8, SMALL_SIZE, False),
    ],
)
def test_dots_beyond_the_limit_are_refused(width: int, height: int, limits: PhotoLimits, taken: bool) -> None:
    content = START + QUANTIZATION + frame(width, height) + DC_TABLE + AC_TABLE + SCAN + b"\x00" + END
    if taken:
        assert (cleaned(content, limits).width, cleaned(content, limits).height) == (width, height)
    else:
        with pytest.raises(UsageError, match=f"{width} × {height} dots"):
            cleaned(content, limits)


def test_bytes_beyond_the_limit_are_refused() -> None:
    filler = jpeg(64, 48)[:-2] + b"\x01" * (300_000 - len(jpeg(64, 48))) + END
    assert len(filler) == 300_000
    cleaned(filler)
    with pytest.raises(UsageError, match="at most 300 kB"):
        cleaned(filler[:-2] + b"\x01" + END)


def test_a_megabyte_of_noise_is_read_in_no_time() -> None:
    """Every second byte looks like a marker; nothing is read twice."""
    limits = PhotoLimits(10_000_000, 100, 10_000)
    cleaned(jpeg(8, 8)[:-2] + b"\xff\x00" * 500_000 + END, limits)
