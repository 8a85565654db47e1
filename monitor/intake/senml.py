"""SenML packs (RFC 8428, versions of RFC 9100) from bytes to resolved records, and units on the way in. Pure.

Decisions where the RFC leaves room: a record without any value is refused unless it holds base fields only
(so a base value alone makes no reading, 4.2 before 4.5.4); secondary units (RFC 8798) are left as sent and
understood in packs of any version (`convert`); numbers are doubles, and what is not finite is refused.
"""

from __future__ import annotations

import io
import json
import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, NoReturn

import cbor2

from monitor.errors import PayloadError

UNIT_SPELLINGS: Mapping[str, str] = {
    "°c": "Cel", "c": "Cel", "cel": "Cel", "celsius": "Cel", "degc": "Cel", "deg c": "Cel",
    "°f": "degF", "f": "degF", "degf": "degF", "fahrenheit": "degF", "deg f": "degF",
    "k": "K", "%": "%", "%rh": "%RH", "rh": "%RH", "rh%": "%RH", "% rh": "%RH",
    "v": "V", "mv": "mV", "lx": "lx", "lux": "lx", "ppm": "ppm",
}  # fmt: skip
"""What boards and loggers write that do not speak SenML, in lower case."""
FIRST_ABSOLUTE_S = 2**28
"""Times below are relative to now (RFC 8428 4.5.3)."""
FURTHEST_S = 2.0**40
DEFAULT_VERSION = 10
UNDERSTOOD_FEATURES = 10 | 2**4
"""Version 10 and feature 4, secondary units (RFC 9100 section 4 and 5)."""
MOST_RECORDS = 200
CBOR_LABELS: Mapping[int, str] = {
    -1: "bver", -2: "bn", -3: "bt", -4: "bu", -5: "bv", -6: "bs",
    0: "n", 1: "u", 2: "v", 3: "vs", 4: "vb", 5: "s", 6: "t", 7: "ut", 8: "vd",
}  # fmt: skip
"""Labels of RFC 8428 table 4."""
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*")
_BASE64URL = re.compile(r"[A-Za-z0-9_-]*")
_VALUE_LABELS = ("v", "vs", "vb", "vd")
_OWN_LABELS = frozenset(CBOR_LABELS.values()) - {"bver", "bn", "bt", "bu", "bv", "bs"}
_REFUSED_TAGS = (0, 1, 2, 3, 5, 25, 28, 29, 30, 35, 36, 37, 100, 256, 258, 260, 261, 1004, 43000, 55799)


@dataclass(frozen=True, slots=True)
class Scale:
    """primary = value * multiply / divide + add; a fraction, so that 3300 mV is 3.3 V, not its neighbour."""

    primary: str
    multiply: float
    divide: float = 1.0
    add: float = 0.0


SECONDARY: Mapping[str, Scale] = {
    "ms": Scale("s", 1, 1000),
    "min": Scale("s", 60),
    "h": Scale("s", 3600),
    "MHz": Scale("Hz", 1e6),
    "kW": Scale("W", 1000),
    "kVA": Scale("VA", 1000),
    "kvar": Scale("var", 1000),
    "Ah": Scale("C", 3600),
    "Wh": Scale("J", 3600),
    "kWh": Scale("J", 3.6e6),
    "varh": Scale("vars", 3600),
    "kvarh": Scale("vars", 3.6e6),
    "kVAh": Scale("VAs", 3.6e6),
    "Wh/km": Scale("J/m", 3.6),
    "KiB": Scale("B", 1024),
    "GB": Scale("B", 1e9),
    "Mbit/s": Scale("bit/s", 1e6),
    "B/s": Scale("bit/s", 8),
    "MB/s": Scale("bit/s", 8e6),
    "mV": Scale("V", 1, 1000),
    "mA": Scale("A", 1, 1000),
    "dBm": Scale("dBW", 1, 1, -30),
    "ug/m3": Scale("kg/m3", 1, 1e9),
    "mm/h": Scale("m/s", 1, 3.6e6),
    "m/h": Scale("m/s", 1, 3600),
    "ppm": Scale("/", 1, 1e6),
    "/100": Scale("/", 1, 100),
    "/1000": Scale("/", 1, 1000),
    "hPa": Scale("Pa", 100),
    "mm": Scale("m", 1, 1000),
    "cm": Scale("m", 1, 100),
    "km": Scale("m", 1000),
    "km/h": Scale("m/s", 1, 3.6),
}
"""RFC 8798 table 2."""

_LIKEWISE: Mapping[str, Scale] = {
    "%": Scale("/", 1),  # RFC 8428 12.1 note 2: the ratio itself, not percent
    "K": Scale("Cel", 1, 1, -273.15),
}


def to_primary(value: float, unit: str) -> tuple[float, str]:
    """A value in the primary unit of its kind; units that are not secondary stay as they are."""
    scale = SECONDARY.get(unit) or _LIKEWISE.get(unit)
    if scale is None:
        return value, unit
    return value * scale.multiply / scale.divide + scale.add, scale.primary


def convert(value: float, unit: str, wanted: str) -> float:
    """A value in the unit `wanted`; PayloadError where the two units do not measure the same thing."""
    if unit == wanted:
        return value
    primary, primary_unit = to_primary(value, unit)
    target = SECONDARY.get(wanted, Scale(wanted, 1))
    if primary_unit != target.primary:
        raise _mismatch(unit, wanted)
    result = (primary - target.add) * target.divide / target.multiply
    if not math.isfinite(result):
        raise PayloadError(
            "the value is too large to be turned from {unit} into {wanted}", unit=unit, wanted=wanted
        )
    return result


def convert_plain(value: float, unit: str, wanted: str) -> float:
    """Like `convert`, for what is not SenML: °C, °F, and % in the sense of everyday speech."""
    unit = UNIT_SPELLINGS.get(unit.lower(), unit)
    if unit == "degF":
        value, unit = (value - 32.0) * 5.0 / 9.0, "Cel"
    elif unit == "%":
        unit = "%RH" if wanted == "%RH" else "/100"
    return convert(value, unit, wanted)


def _mismatch(unit: str, wanted: str) -> PayloadError:
    shown = ascii(unit[:20])
    if unit in ("%", "/") and wanted == "%RH":
        return PayloadError(
            "the unit {unit} is a ratio in SenML; relative humidity needs %RH (0 to 100)", unit=shown
        )
    return PayloadError("the unit {unit} cannot be turned into {wanted}", unit=shown, wanted=wanted)


@dataclass(frozen=True, slots=True)
class Record:
    """One resolved record (RFC 8428 4.6). `local_name` is the name as sent, without the base name.

    `value` is a number, a text, a truth value or base64url octets (bytes where the pack was CBOR); None where
    the record holds a sum only. `is_relative` says that `time_s` was given relative to now.
    """

    name: str
    local_name: str
    unit: str | None
    time_s: float
    is_relative: bool
    value: float | str | bool | bytes | None = None
    sum: float | None = None
    update_time_s: float | None = None
    version: int = DEFAULT_VERSION


@dataclass(slots=True)
class _Base:
    """Base fields in force while a pack is walked through."""

    name: str = ""
    time_s: float = 0.0
    unit: str | None = None
    value: float | None = None
    sum: float | None = None
    version: int | None = None


def decode(payload: bytes, content_type: str | None = None) -> list[dict[str, Any]]:
    """Bytes to a list of records with text labels; the content type decides, else the first byte."""
    records = _from_cbor(payload) if is_cbor(payload, content_type) else _from_json(payload)
    if not isinstance(records, list):
        raise PayloadError("a SenML pack is an array of records in [ ]; this is something else")
    if not all(isinstance(record, dict) for record in records):
        raise PayloadError("every record of a SenML pack is an object; at least one is not")
    return records


def resolve(
    records: Iterable[Mapping[str, Any]], now_s: float, most_records: int = MOST_RECORDS
) -> tuple[Record, ...]:
    """Resolved records in the order of time (RFC 8428 4.6); relative times count from `now_s`."""
    pack = list(records)
    if not 1 <= len(pack) <= most_records:
        raise PayloadError(
            "the pack holds {count} records; allowed: 1 to {most}", count=len(pack), most=most_records
        )
    base, resolved = _Base(), []
    for number, fields in enumerate(pack, start=1):
        try:
            _check_fields(fields)
            _take_base(base, fields)
            if is_record(fields):
                resolved.append(_record(base, fields, now_s))
        except PayloadError as error:
            raise PayloadError("record {number}: {why}", number=number, why=error.said) from None
    resolved.sort(key=lambda record: record.time_s)
    return tuple(resolved)


def is_record(fields: Mapping[str, Any]) -> bool:
    """Whether the fields make a record, and are not base fields alone."""
    return not _OWN_LABELS.isdisjoint(fields)


def is_cbor(payload: bytes, content_type: str | None) -> bool:
    """Whether a pack is CBOR: by its content type, else by its first byte."""
    kind = (content_type or "").lower()
    if "json" in kind or "cbor" in kind:
        return "cbor" in kind
    return 0x80 <= payload[0] <= 0x9F if payload else False


def _from_json(payload: bytes) -> Any:
    try:
        text = payload.decode("utf-8-sig")
        return json.loads(text, object_pairs_hook=_unique, parse_constant=_refuse_constant)
    except UnicodeDecodeError:
        raise PayloadError("the payload is neither UTF-8 text nor CBOR") from None
    except (ValueError, RecursionError) as error:
        raise PayloadError(
            "the payload is not JSON: {kind}, {why}", kind=type(error).__name__, why=_short(str(error))
        ) from None


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    fields = dict(pairs)
    if len(fields) != len(pairs):
        raise PayloadError("a label occurs twice in one record")
    return fields


def _refuse_constant(word: str) -> NoReturn:
    raise PayloadError("{word} is not a number; leave the record out when a sensor gives nothing", word=word)


def _refuse_tag(_decoder: object, _immutable: bool) -> NoReturn:
    raise PayloadError("CBOR tags other than 4 (decimal fraction) have no meaning in SenML")


def _from_cbor(payload: bytes) -> Any:
    source = io.BytesIO(payload)
    try:
        decoder = cbor2.CBORDecoder(
            source,
            max_depth=4,
            allow_indefinite=False,
            allow_duplicate_keys=False,
            semantic_decoders=dict.fromkeys(_REFUSED_TAGS, _refuse_tag),
        )
        records = decoder.decode()
    except (cbor2.CBORError, ValueError, TypeError, ArithmeticError) as error:
        why = _short(str(error).partition("(")[0].strip())[1:-1]
        raise PayloadError("the payload is neither JSON text nor a CBOR pack ({why})", why=why) from None
    if source.tell() != len(payload):
        raise PayloadError("bytes follow after the end of the CBOR pack")
    if not isinstance(records, list):
        return records
    return [_with_text_labels(record) if isinstance(record, dict) else record for record in records]


def _with_text_labels(record: Mapping[Any, Any]) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    for label, value in record.items():
        text = CBOR_LABELS.get(label, str(label)) if type(label) is int else label
        if not isinstance(text, str) or text in fields:
            raise PayloadError("a label is neither a number nor a text, or occurs twice in one record")
        fields[text] = float(value) if isinstance(value, Decimal) else value
    return fields


def _check_fields(fields: Mapping[str, Any]) -> None:
    for label, value in fields.items():
        check = _CHECKS.get(label)
        if check is not None:
            check(label, value)
        elif label.endswith("_"):
            raise PayloadError("the label {label} must be understood, and is not", label=_short(label))


def _finite(label: str, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise PayloadError("{label} must be a number", label=label)
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise PayloadError("{label} is not a finite number", label=label)
    return number


def _text(label: str, value: object) -> None:
    if not isinstance(value, str):
        raise PayloadError("{label} must be a text", label=label)


def _truth(label: str, value: object) -> None:
    if not isinstance(value, bool):
        raise PayloadError("{label} must be true or false", label=label)


def _octets(label: str, value: object) -> None:
    if not isinstance(value, bytes) and not (isinstance(value, str) and _BASE64URL.fullmatch(value)):
        raise PayloadError("{label} must be base64url without padding", label=label)


_CHECKS: Mapping[str, Callable[[str, Any], object]] = {
    **dict.fromkeys(("bn", "bu", "n", "u", "vs"), _text),
    **dict.fromkeys(("bver", "bt", "bv", "bs", "v", "s", "t", "ut"), _finite),
    "vb": _truth,
    "vd": _octets,
}


def _take_base(base: _Base, fields: Mapping[str, Any]) -> None:
    base.name = fields.get("bn", base.name)
    base.time_s = float(fields.get("bt", base.time_s))
    base.unit = fields.get("bu", base.unit)
    base.value = fields.get("bv", base.value)
    base.sum = fields.get("bs", base.sum)
    version = _version(fields["bver"]) if "bver" in fields else base.version or DEFAULT_VERSION
    if base.version is not None and base.version != version:
        raise PayloadError("all records of a pack must have the same version (bver)")
    base.version = version


def _version(number: float) -> int:
    version = int(number)
    if version != number or version < 1:
        raise PayloadError("bver must be a whole number above 0")
    is_understood = version <= DEFAULT_VERSION or (
        version & 0b1111 == DEFAULT_VERSION and version & ~UNDERSTOOD_FEATURES == 0
    )
    if not is_understood:
        raise PayloadError(f"SenML version {version} is newer than understood; allowed: up to 10, and 26")
    return version


def _record(base: _Base, fields: Mapping[str, Any], now_s: float) -> Record:
    local_name = fields.get("n", "")
    time_s = _finite("the time", base.time_s + fields.get("t", 0))
    if abs(time_s) > FURTHEST_S:
        raise PayloadError("the time is further away than any clock")
    is_relative = time_s < FIRST_ABSOLUTE_S
    return Record(
        name=_name(base.name + local_name),
        local_name=local_name,
        unit=fields.get("u", base.unit),
        time_s=now_s + time_s if is_relative else time_s,
        is_relative=is_relative,
        value=_value(base, fields),
        sum=_finite("s", fields.get("s", 0) + (base.sum or 0)) if _has_sum(base, fields) else None,
        update_time_s=float(fields["ut"]) if "ut" in fields else None,
        version=base.version or DEFAULT_VERSION,
    )


def _has_sum(base: _Base, fields: Mapping[str, Any]) -> bool:
    return "s" in fields or base.sum is not None


def _name(name: str) -> str:
    if not _NAME.fullmatch(name):
        raise PayloadError(
            f"the name {_short(name)} may hold letters, digits, - : . / _ only, first a letter or digit"
        )
    return name


def _value(base: _Base, fields: Mapping[str, Any]) -> float | str | bool | bytes | None:
    given = [label for label in _VALUE_LABELS if label in fields]
    if len(given) > 1 or (not given and not _has_sum(base, fields)):
        raise PayloadError(f"exactly one of v, vs, vb, vd is needed; found {len(given)}")
    if not given:
        return None
    if given[0] == "v":
        return _finite("v", float(fields["v"]) + (base.value or 0))
    value: str | bool | bytes = fields[given[0]]
    return value


def _short(text: str) -> str:
    return ascii(text[:60])
