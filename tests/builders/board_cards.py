"""Cards and settings for boards, written without the program's own code: a second reading of the format."""

from __future__ import annotations

import base64
import json
import zlib
from typing import Any

AUTHORITY = base64.b64encode(b"\x30" + bytes(range(256)) + b"\x01" * 64).decode()
"""As long as the certificate of a farm's authority (321 bytes); the board looks at its letters alone."""


def value_text(value: Any) -> str:
    match value:
        case True:
            return "true"
        case False:
            return "false"
        case list():
            return ",".join(value)
        case dict():
            return ",".join(f"{key}:{value[key]}" for key in sorted(value))
    return str(value)


def summed(values: dict[str, Any]) -> dict[str, Any]:
    """The same with the right sum."""
    plain = {key: value for key, value in values.items() if key != "sum"}
    lines = "\n".join(f"{key}={value_text(plain[key])}" for key in sorted(plain))
    return plain | {"sum": format(zlib.crc32(lines.encode()), "08x")}


def card(**changed: Any) -> dict[str, Any]:
    """A card with its sum; a value of None leaves the key out."""
    values: dict[str, Any] = {
        "card": 1,
        "root": "rearing",
        "site": "saltbush-yard",
        "node": "node-03",
        "hosts": ["farm-pc.local", "192.168.1.20", "fd00::20"],
        "port": 8883,
        "tls_name": "rearing-broker",
        "user": "node-03",
        "password": "h8Qz-T0pSecret",
        "interval_s": 60,
        "send_every": 1,
        "power": "mains",
        "sensors": ["sht4x", "ds18b20:substrate_temperature"],
        "probes": ["p1", "p2"],
        "wifi": "Ferme Bé",
        "wifi_password": "wet thumbs 1",
        "ca": AUTHORITY,
    }
    return summed({key: value for key, value in (values | changed).items() if value is not None})


def pasted(values: dict[str, Any]) -> str:
    """One line, as the monitor shows it."""
    return json.dumps(values, separators=(",", ":"), ensure_ascii=False)
