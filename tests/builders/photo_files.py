"""JPEG files for tests: grey pictures drawn without any library, and the metadata that cameras write."""

from __future__ import annotations

import struct
from collections.abc import Iterator

# One code of four bits for each size of a difference of brightness (T.81, F.1.2.1), and of one bit for "end
# of block": each block of eight by eight dots has one shade.
_SIZES = bytes(range(12))
DC_TABLE = b"\xff\xc4" + struct.pack(">H", 3 + 16 + 12) + b"\x00" + bytes([0, 0, 0, 12, *[0] * 12]) + _SIZES
AC_TABLE = b"\xff\xc4" + struct.pack(">H", 3 + 16 + 1) + b"\x10" + bytes([1, *[0] * 15]) + b"\x00"
QUANTIZATION = b"\xff\xdb" + struct.pack(">H", 67) + b"\x00" + bytes([8] * 64)
SCAN = b"\xff\xda" + struct.pack(">H", 8) + b"\x01\x01\x00\x00\x3f\x00"
START, END = b"\xff\xd8", b"\xff\xd9"
GPS = b"GPS-SECRET-24.6541S-25.9087E"


def frame(width: int, height: int, marker: int = 0xC0) -> bytes:
    """The header of a grey picture."""
    return b"\xff" + bytes([marker]) + struct.pack(">HBHHB", 11, 8, height, width, 1) + b"\x01\x11\x00"


def segment(marker: int, body: bytes) -> bytes:
    """Any segment with a length."""
    return b"\xff" + bytes([marker]) + struct.pack(">H", len(body) + 2) + body


def exif() -> bytes:
    """What a phone's camera writes: where it was, when and with what, with a pointer to the block of GPS."""
    entries = [(0x010F, 2, 20, 0), (0x0112, 3, 1, 6 << 16), (0x8825, 4, 1, 64)]
    ifd = struct.pack(">H", len(entries)) + b"".join(struct.pack(">HHII", *each) for each in entries)
    return segment(0xE1, b"Exif\x00\x00MM\x00*\x00\x00\x00\x08" + ifd + b"A phone of somebody\x00" + GPS)


def jpeg(width: int = 64, height: int = 48, before: bytes = b"", after: bytes = b"", seed: int = 0) -> bytes:
    """A picture that any browser draws; `before` stands between its start and its tables."""
    blocks = -(-width // 8) * -(-height // 8)
    data = _packed(_bits(blocks, seed))
    tables = QUANTIZATION + frame(width, height) + DC_TABLE + AC_TABLE
    return START + before + tables + SCAN + data + END + after


def _bits(blocks: int, seed: int) -> Iterator[str]:
    before = 0
    for block in range(blocks):
        shade = (block * 37 + seed * 11) % 200 - 100
        yield from (_difference(shade - before), "0")
        before = shade


def _difference(value: int) -> str:
    size = abs(value).bit_length()
    bits = value if value >= 0 else value + (1 << size) - 1
    return f"{size:04b}" + (f"{bits:0{size}b}" if size else "")


def _packed(bits: Iterator[str]) -> bytes:
    text = "".join(bits)
    text += "1" * (-len(text) % 8)
    return int(text, 2).to_bytes(len(text) // 8, "big").replace(b"\xff", b"\xff\x00")


def markers(content: bytes) -> list[int]:
    """The markers of a JPEG in their order, read by the rules of T.81 apart from the program."""
    assert content[:2] == START
    at, found = 2, [0xD8]
    while content[at : at + 2] != END:
        assert content[at] == 0xFF, f"no marker at {at}"
        marker = content[at + 1]
        found.append(marker)
        at += 2 + struct.unpack(">H", content[at + 2 : at + 4])[0]
        while marker == 0xDA and not (content[at] == 0xFF and content[at + 1] not in (0, *range(0xD0, 0xD8))):
            at += 1
    assert at + 2 == len(content), "something stands behind the end"
    return [*found, 0xD9]
