"""SenML reader against the RFC's own packs (RFC 8428), versions (RFC 9100) and units (RFC 8798)."""

from __future__ import annotations

import base64
import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import cbor2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import PayloadError
from monitor.intake import senml
from monitor.intake.senml import SECONDARY, convert, convert_plain, to_primary

VECTORS = json.loads((Path(__file__).parents[1] / "references" / "senml_vectors.json").read_text("utf-8"))
EXAMPLES, RULES = VECTORS["examples"], VECTORS["rules"]
LABELS = {text: number for number, text in senml.CBOR_LABELS.items()}


def _ids(vector: dict[str, Any]) -> str:
    return str(vector["id"])


def _to_cbor(pack: Any) -> bytes:
    def value(label: str, given: Any) -> Any:
        return base64.urlsafe_b64decode(given + "==") if label == "vd" else given

    if not isinstance(pack, list):
        return cbor2.dumps(pack)
    return cbor2.dumps([{LABELS.get(key, key): value(key, val) for key, val in one.items()} for one in pack])


def _resolved(payload: bytes, now_s: float, *, primary: bool = False) -> list[dict[str, Any]]:
    shown = []
    for record in senml.resolve(senml.decode(payload), now_s):
        value, unit = record.value, record.unit
        if primary and isinstance(value, float) and unit is not None:
            value, unit = to_primary(value, unit)
        fields: dict[str, Any] = {"n": record.name, "t": record.time_s}
        if record.version != senml.DEFAULT_VERSION:
            fields["bver"] = record.version
        if unit is not None:
            fields["u"] = unit
        fields[_label(value)] = value
        shown.append(fields)
    return shown


def _label(value: object) -> str:
    return {bool: "vb", float: "v", bytes: "vd"}.get(type(value), "vs")


def _expected(records: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """`vs` stands for text and for octets in JSON: a reader of values cannot tell them apart."""
    return [{("vs" if key == "vd" else key): value for key, value in one.items()} for one in records]


def _assert_same(found: list[dict[str, Any]], wanted: list[dict[str, Any]]) -> None:
    assert len(found) == len(wanted)
    for one, other in zip(found, wanted, strict=True):
        # A rule names only the fields that it is about.
        seen = {key: one[key] for key in other}
        assert seen.pop("t", 0) == pytest.approx(other.get("t", 0), abs=1e-6)
        assert seen.pop("v", 0) == pytest.approx(other.get("v", 0), rel=1e-9)
        assert seen == {key: value for key, value in other.items() if key not in ("t", "v")}


@pytest.mark.parametrize("vector", EXAMPLES, ids=_ids)
def test_rfc_8428_example(vector: dict[str, Any]) -> None:
    found = _resolved(json.dumps(vector["pack"]).encode(), vector.get("now_s", 0))
    wanted = _expected(vector["resolved"])
    _assert_same(found, wanted)
    assert [set(one) for one in found] == [set(one) for one in wanted]


@pytest.mark.parametrize("vector", EXAMPLES, ids=_ids)
def test_rfc_8428_example_in_cbor_is_the_same_pack(vector: dict[str, Any]) -> None:
    """RFC 8428 section 6: the same pack in CBOR means the same."""
    now_s = vector.get("now_s", 0)
    in_json = senml.resolve(senml.decode(json.dumps(vector["pack"]).encode()), now_s)
    in_cbor = senml.resolve(senml.decode(_to_cbor(vector["pack"])), now_s)
    for one, other in zip(in_json, in_cbor, strict=True):
        value = other.value
        if isinstance(value, bytes):
            value = base64.urlsafe_b64encode(value).rstrip(b"=").decode()
        assert (one.name, one.unit, one.time_s, one.value) == (other.name, other.unit, other.time_s, value)


def test_rfc_8428_section_6_dump_is_the_json_example() -> None:
    dump = VECTORS["cbor"]
    example = next(one for one in EXAMPLES if one["id"] == dump["example"])
    payload = bytes.fromhex(dump["hex"])
    assert len(payload) == 195
    assert senml.decode(payload) == example["pack"]
    _assert_same(_resolved(payload, 0), example["resolved"])


@pytest.mark.parametrize("vector", RULES, ids=_ids)
@pytest.mark.parametrize("form", ["json", "cbor"])
def test_rule(vector: dict[str, Any], form: str) -> None:
    payload = json.dumps(vector["pack"]).encode() if form == "json" else _to_cbor(vector["pack"])
    if vector.get("refused"):
        with pytest.raises(PayloadError):
            _resolved(payload, vector["now_s"])
        return
    found = _resolved(payload, vector["now_s"], primary=vector.get("primary_units", False))
    _assert_same(found, vector["resolved"])


def test_version_10_is_not_shown_and_others_are() -> None:
    """RFC 8428 4.6."""
    assert "bver" not in _resolved(b'[{"bver": 10, "n": "a", "v": 1}]', 0)[0]
    assert _resolved(b'[{"bver": 5, "n": "a", "v": 1}, {"n": "b", "v": 1}]', 0)[1]["bver"] == 5


@pytest.mark.parametrize(
    ("version", "accepted"), [(5, True), (10, True), (26, True), (42, False), (58, False)]
)
@pytest.mark.parametrize("more", [b"", b".0"])
def test_versions_are_feature_bits(version: int, accepted: bool, more: bytes) -> None:
    """RFC 9100 section 2: 42 asks for feature 5, which is not known here; 26 for secondary units."""
    payload = b'[{"bver": %d%b, "n": "a", "v": 1}]' % (version, more)
    if accepted:
        assert senml.resolve(senml.decode(payload), 0)
    else:
        with pytest.raises(PayloadError, match="newer than understood"):
            senml.resolve(senml.decode(payload), 0)


@pytest.mark.parametrize("version", ["0", "-1", "10.5", "true", '"10"', "16", "27"])
def test_version_that_is_none_is_refused(version: str) -> None:
    with pytest.raises(PayloadError):
        senml.resolve(senml.decode(f'[{{"bver": {version}, "n": "a", "v": 1}}]'.encode()), 0)


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"", "not JSON"),
        (b"\xff\xfe", "neither UTF-8"),
        (b"[" * 16000, "not JSON"),
        (b"[{]", "not JSON"),
        (b'[{"n": "a", "v": ' + b"9" * 5000 + b"}]", "not JSON"),
        (b"[1, 2]", "every record of a SenML pack is an object"),
        (b"null", "array of records"),
        (b'[{"n": "a", "v": 1e999}]', "not a finite number"),
        (b'[{"n": "a", "v": ' + b"9" * 400 + b"}]", "not a finite number"),
        (b'[{"n": "a", "v": -Infinity}]', "-Infinity is not a number"),
        (b'[{"n": "a", "v": 1, "bv": 1.7e308}, {"n": "a", "v": 1.7e308}]', "not a finite number"),
        (b'[{"n": "a", "v": 1, "t": 1e300}]', "further away"),
        (b'[{"n": "a", "v": 1, "bt": 1.7e308, "t": 1.7e308}]', "not a finite number"),
        (b'[{"n": "a", "v": true}]', "v must be a number"),
        (b'[{"n": "a", "vb": 1}]', "vb must be true or false"),
        (b'[{"n": "a", "vs": 1}]', "vs must be a text"),
        (b'[{"n": "a", "vd": "a+b="}]', "base64url"),
        (b'[{"n": 7, "v": 1}]', "n must be a text"),
        (b'[{"v": 1}]', "the name"),
        (b'[{"n": "caf\xc3\xa9", "v": 1}]', "the name"),
        (b'[{"n": "a", "t": 5}]', "exactly one of"),
        (b'[{"n": "\\ud800", "v": 1}]', "the name"),
    ],
)
def test_hostile_json_is_refused_with_a_reason(payload: bytes, reason: str) -> None:
    with pytest.raises(PayloadError, match=reason) as caught:
        senml.resolve(senml.decode(payload), 0)
    assert str(caught.value).isascii()


@pytest.mark.parametrize(
    "payload",
    [
        b"\x81" * 200 + b"\x01",
        b"\x9f\xa2\x00\x61a\x02\x01\xff",
        b"\x81\xbf\x00\x61a\x02\x01\xff",
        b"\x81\xa3\x00\x61a\x02\x01\x02\x02",
        b"\x81\xa2\x00\x61a\x02\x01\x00",
        b"\x81\xa2\x00\x61a\x02\xd8\x23\x61a",
        b"\x81\xa2\x00\x61a\x02\xc2\x42\x01\x00",
        b"\x81\xa2\x00\x61a\x02\xf9\x7e\x00",
        b"\x81\xa2\x00\x61a\x02\xf9\x7c\x00",
        b"\x9b\x00\xff\xff\xff\xff\xff\xff\xff",
        b"\x81\xa1\x80\x01",
        b"\x81\xa1\xf5\x01",
        b"\x81\xa2\x00\x61a\x02\xc4\x82\x1b\x7f\xff\xff\xff\xff\xff\xff\xff\x01",
    ],
    ids=[
        "nested", "endless array", "endless map", "key twice", "bytes after it", "pattern tag",
        "big number tag",
        "NaN", "infinity", "announces too much", "array as label", "truth as label", "huge decimal",
    ],
)  # fmt: skip
def test_hostile_cbor_is_refused(payload: bytes) -> None:
    with pytest.raises(PayloadError):
        senml.resolve(senml.decode(payload, "application/senml+cbor"), 0)


def test_cbor_decimal_fraction_is_a_number() -> None:
    """RFC 8428 section 6 allows tag 4 for numbers: 27.4 is 274 times 10 to the -1."""
    payload = b"\x81\xa2\x00\x61a\x02\xc4\x82\x20\x19\x01\x12"
    assert senml.resolve(senml.decode(payload), 0)[0].value == 27.4


def test_content_type_decides_before_the_first_byte() -> None:
    with pytest.raises(PayloadError, match="CBOR"):
        senml.decode(b'[{"n": "a", "v": 1}]', "application/senml+cbor")
    with pytest.raises(PayloadError, match="UTF-8"):
        senml.decode(_to_cbor([{"n": "a", "v": 1}]), "application/senml+json")


def test_records_are_limited() -> None:
    pack = [{"n": "a", "v": 1}] * senml.MOST_RECORDS
    assert len(senml.resolve(pack, 0)) == senml.MOST_RECORDS
    with pytest.raises(PayloadError, match="allowed: 1 to 200"):
        senml.resolve([*pack, pack[0]], 0)


@pytest.mark.parametrize("row", VECTORS["secondary_units"]["rows"], ids=lambda row: row[0])
def test_rfc_8798_table_2(row: list[Any]) -> None:
    unit, primary, scale, offset = row
    numerator, _, denominator = scale.partition("/")
    factor = Fraction(numerator) / Fraction(denominator or 1)
    for value in (1.0, -3.7, 1013.25):
        found, found_unit = to_primary(value, unit)
        assert found_unit == primary
        assert found == pytest.approx(float(Fraction(value) * factor) + offset, rel=1e-15)


def test_rfc_8798_table_is_whole_and_its_examples_hold() -> None:
    assert set(SECONDARY) == {row[0] for row in VECTORS["secondary_units"]["rows"]}
    for value, unit, wanted, wanted_unit in VECTORS["secondary_units"]["examples"]:
        assert to_primary(value, unit) == (wanted, wanted_unit)


@given(st.sampled_from(sorted(SECONDARY)), st.floats(-1e9, 1e9))
def test_conversion_there_and_back(unit: str, value: float) -> None:
    primary, primary_unit = to_primary(value, unit)
    assert convert(primary, primary_unit, unit) == pytest.approx(value, rel=1e-12, abs=1e-7)


@pytest.mark.parametrize(
    ("value", "unit", "wanted", "result"),
    [
        (3300, "mV", "V", 3.3),
        (273.15, "K", "Cel", 0),
        (0.0004, "/", "ppm", 400),
        (0.5, "%", "/", 0.5),
        (55, "/100", "/", 0.55),
    ],
)
def test_units_to_ours(value: float, unit: str, wanted: str, result: float) -> None:
    assert convert(value, unit, wanted) == pytest.approx(result, abs=1e-12)


@pytest.mark.parametrize(
    ("value", "unit", "wanted", "result"),
    [(212, "degF", "Cel", 100), (-40, "°F", "Cel", -40), (55, "%", "/", 0.55), (55, "%", "%RH", 55)],
)
def test_units_off_senml(value: float, unit: str, wanted: str, result: float) -> None:
    assert convert_plain(value, unit, wanted) == pytest.approx(result)


def test_units_that_do_not_fit_are_refused_in_words() -> None:
    with pytest.raises(PayloadError, match="relative humidity needs %RH"):
        convert(0.5, "/", "%RH")
    with pytest.raises(PayloadError, match="'degF' cannot be turned into Cel"):
        convert(80, "degF", "Cel")
    with pytest.raises(PayloadError, match="too large"):
        convert(1e305, "/", "ppm")
