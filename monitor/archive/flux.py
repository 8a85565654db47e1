"""An archive on InfluxDB 2, asked in Flux through influxdb-client, which also reads the annotated CSV.

Never run against a live one: no server that speaks Flux could be had where this was written. It was tested on
annotated CSV as the specification describes it. The server folds each series; what becomes of several series
in a group is worked out here.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import groupby
from typing import TYPE_CHECKING, Any

import numpy as np

from monitor.archive.access import ReadAccess, no_answer, not_such_a_server, not_understood, refusal
from monitor.archive.reader import (
    FLAG_FIELD,
    NODE_TAG,
    SITE_TAG,
    VALUE_FIELD,
    Figure,
    Newest,
    Over,
    Points,
    Selection,
    SensorReadings,
    Series,
    newest_of,
    paired,
    points_of,
)
from monitor.errors import ArchiveError
from monitor.records import SensorKey

if TYPE_CHECKING:
    from influxdb_client.rest import ApiException

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MS = timedelta(milliseconds=1)
_NO_TAGS = frozenset({"result", "table", "_start", "_stop", "_time", "_value", "_field", "_measurement"})
_FOLDS: Mapping[Over, tuple[str, Callable[[Iterable[float]], float]]] = {
    Over.MINIMUM: ("min", min),
    Over.MAXIMUM: ("max", max),
    Over.SUM: ("sum", sum),
    Over.COUNT: ("count", sum),
    Over.FIRST_MS: ("first", min),
    Over.LAST_MS: ("last", max),
}
_TIMES = (Over.FIRST_MS, Over.LAST_MS)


@dataclass(frozen=True, slots=True)
class _Row:
    """One record of an answer; `table` numbers its table, `at_ms` is 0 where it has no time."""

    table: int
    tags: Mapping[str, str]
    measurement: str
    field: str
    at_ms: int
    value: Any


class FluxReader:
    """Reads through one client, whose connections stay open. The library is imported when first needed."""

    def __init__(self, access: ReadAccess) -> None:
        try:
            from influxdb_client.client.influxdb_client import InfluxDBClient
        except ImportError as error:
            raise ArchiveError(
                "[archive] needs one more package. To mend: pip install 'rearing-monitor[archive]'."
            ) from error
        self._access = access
        self._client = InfluxDBClient(
            access.url,
            access.secret,
            org=access.org,
            timeout=round(access.timeout_s * 1000),
            enable_gzip=True,
        )

    def prove(self) -> None:
        """Raise unless the server can count in this language, and has the bucket."""
        query = 'import "array"\narray.from(rows: [{_value: 40 + 2}])'
        if [row.value for row in self._rows(query)] != [42]:
            raise not_such_a_server(self._access, "InfluxDB")
        for _ in self._rows(f"{self._range(0, 1)} |> limit(n: 1)"):
            break

    def sites(self, start_ms: int, end_ms: int) -> tuple[str, ...]:
        """The sites, from the index of tags."""
        query = (
            'import "influxdata/influxdb/schema"\n'
            f"schema.tagValues(bucket: {_text(self._access.bucket)}, tag: {_text(SITE_TAG)}, "
            f"start: {_time(start_ms)}, stop: {_time(end_ms)})"
        )
        return tuple(sorted(str(row.value) for row in self._rows(query)))

    def span(self, site: str, start_ms: int, end_ms: int) -> tuple[int, int] | None:
        """The first and the last time of the flags of each sensor, and of these the outermost."""
        ends = [
            row.at_ms
            for function in ("first()", "last()")
            for row in self._selected(_readings_of(site, FLAG_FIELD), start_ms, end_ms, function)
        ]
        return (min(ends), max(ends)) if ends else None

    def readings(
        self, site: str, start_ms: int, end_ms: int, sensors: Iterable[SensorKey] | None = None
    ) -> Iterator[SensorReadings]:
        """Readings of a site, from one query for values and flags."""
        wanted = None if sensors is None else frozenset(sensors)
        conditions = _readings_of(site, VALUE_FIELD, FLAG_FIELD)
        if wanted is not None:
            conditions.append(_any_of("_measurement", {key.quantity for key in wanted}))
            conditions.append(_any_of(NODE_TAG, {key.node for key in wanted}))
        for readings in paired(self._series(conditions, start_ms, end_ms)):
            if wanted is None or readings.sensor in wanted:
                yield readings

    def points(self, selection: Selection, start_ms: int, end_ms: int) -> Iterator[Points]:
        """Every point of the selected series."""
        return points_of(self._series(_conditions(selection), start_ms, end_ms))

    def last(self, selection: Selection, by: Sequence[str], start_ms: int, end_ms: int) -> tuple[Newest, ...]:
        """The newest point of each series, from the server."""
        rows = self._selected(_conditions(selection), start_ms, end_ms, "last()")
        return newest_of(((row.tags, row.at_ms, float(row.value)) for row in rows), by)

    def aggregate(
        self, selection: Selection, over: Over, by: Sequence[str], start_ms: int, end_ms: int
    ) -> tuple[Figure, ...]:
        """Each series is folded by the server, the series of each group here."""
        function, across = _FOLDS[over]
        groups: dict[tuple[str, ...], list[float]] = defaultdict(list)
        for row in self._selected(_conditions(selection), start_ms, end_ms, f"{function}()"):
            number = row.at_ms if over in _TIMES else row.value
            groups[tuple(row.tags.get(name, "") for name in by)].append(float(number))
        return tuple(
            Figure(dict(zip(by, group, strict=True)), float(across(groups[group])))
            for group in sorted(groups)
        )

    def close(self) -> None:
        """Close the connections."""
        self._client.close()  # type: ignore[no-untyped-call]

    def _series(self, conditions: Sequence[str], start_ms: int, end_ms: int) -> Iterator[Series]:
        for _, rows in groupby(self._selected(conditions, start_ms, end_ms), key=lambda row: row.table):
            table = list(rows)
            first = table[0]
            at_ms = np.array([row.at_ms for row in table], dtype=np.int64)
            value = np.array([row.value for row in table], dtype=np.float64)
            yield Series(first.measurement, first.field, first.tags, at_ms, value)

    def _selected(self, conditions: Sequence[str], start_ms: int, end_ms: int, *steps: str) -> Iterator[_Row]:
        if start_ms >= end_ms:
            return iter(())
        chosen = f"filter(fn: (r) => {' and '.join(conditions)})"
        return self._rows(" |> ".join((self._range(start_ms, end_ms), chosen, *steps)))

    def _range(self, start_ms: int, end_ms: int) -> str:
        source = f"from(bucket: {_text(self._access.bucket)})"
        return f"{source} |> range(start: {_time(start_ms)}, stop: {_time(end_ms)})"

    def _rows(self, query: str) -> Iterator[_Row]:
        """The records of an answer; a fault on the way becomes a named error."""
        table, tags = -1, {}
        with self._named_errors():
            for record in self._client.query_api().query_stream(query, org=self._access.org):
                values = record.values
                if record.table != table:
                    table, tags = record.table, _tags(values)
                moment = values.get("_time")
                yield _Row(
                    table,
                    tags,
                    values.get("_measurement", ""),
                    values.get("_field", ""),
                    0 if moment is None else _ms(moment),
                    values["_value"],
                )

    @contextmanager
    def _named_errors(self) -> Iterator[None]:
        from influxdb_client.client.flux_csv_parser import FluxCsvParserException, FluxQueryException
        from influxdb_client.rest import ApiException
        from urllib3.exceptions import HTTPError

        try:
            yield
        except ApiException as error:
            raise refusal(self._access, error.status or 0, _reason(error)) from error
        except (HTTPError, OSError) as error:
            raise no_answer(self._access, error) from error
        except FluxQueryException as error:
            raise refusal(self._access, 200, error.message) from error
        except (FluxCsvParserException, ValueError, TypeError, LookupError, AttributeError) as error:
            raise not_understood(self._access, error) from error


def _reason(error: ApiException) -> str:
    """What the server said; the library gives the text of its JSON, or the bytes of anything else."""
    said = getattr(error, "message", None) or error.reason or ""
    return said.decode("utf-8", "replace") if isinstance(said, bytes) else str(said)


def _conditions(selection: Selection) -> list[str]:
    return [
        f"r._measurement == {_text(selection.measurement)}",
        f"r._field == {_text(selection.field)}",
        *(
            _tag_is(tag, allowed) if isinstance(allowed, str) else _any_of(tag, allowed)
            for tag, allowed in selection.tags.items()
        ),
    ]


def _readings_of(site: str, *fields: str) -> list[str]:
    return [_tag_is(SITE_TAG, site), _any_of("_field", fields), f"exists {_column(NODE_TAG)}"]


def _tag_is(tag: str, text: str) -> str:
    """A tag that is "" is not there."""
    column = _column(tag)
    return f"{column} == {_text(text)}" if text else f"not exists {column}"


def _any_of(tag: str, allowed: Iterable[str]) -> str:
    cases = " or ".join(_tag_is(tag, text) for text in sorted(set(allowed)))
    return f"({cases})" if cases else "false"


def _column(tag: str) -> str:
    return f"r[{_text(tag)}]"


def _text(text: str) -> str:
    """A text in Flux: what is in it neither ends it nor is worked out (`${...}`)."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("${", "\\${")
    return f'"{escaped}"'.replace("\n", "\\n").replace("\r", "\\r").replace("\t", "\\t")


def _time(at_ms: int) -> str:
    moment = _EPOCH + at_ms * _MS
    return f"{moment:%Y-%m-%dT%H:%M:%S}.{at_ms % 1000:03d}Z"


def _ms(moment: datetime) -> int:
    return (moment - _EPOCH) // _MS


def _tags(values: Mapping[str, object]) -> dict[str, str]:
    return {name: str(text) for name, text in values.items() if name not in _NO_TAGS and text}
