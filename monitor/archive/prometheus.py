"""An archive on VictoriaMetrics: raw points by `export`, figures by instant queries.

A range query is of no use here: it gives values at the steps of its own grid, none at the time at which it
was measured. One address serves both calls; of a cluster it is that of its `select`, up to `/prometheus`.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
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
from monitor.records import MS_PER_DAY, MS_PER_SECOND, SensorKey

if TYPE_CHECKING:
    from urllib3 import BaseHTTPResponse

_CONNECT_TIMEOUT_S = 15.0
_MOST_CONNECTIONS = 4
"""So many are kept open, where several threads ask at once. Own choice."""
_NAME = "__name__"
_SEPARATOR = "_"
"""What the server puts between measurement and field, unless it is told otherwise."""
_LAST, _TIME_OF_LAST = "last_over_time", "tlast_over_time"
_WHICH = "rollup"
"""The label in which the server says which of two figures one is."""
_ROLLUPS: Mapping[Over, tuple[str, str]] = {
    Over.MINIMUM: ("min", "min_over_time"),
    Over.MAXIMUM: ("max", "max_over_time"),
    Over.SUM: ("sum", "sum_over_time"),
    Over.COUNT: ("sum", "count_over_time"),
    Over.FIRST_MS: ("min", "tfirst_over_time"),
    Over.LAST_MS: ("max", _TIME_OF_LAST),
}
_TIMES = (Over.FIRST_MS, Over.LAST_MS)
_EARLIEST_MS = MS_PER_DAY
"""It looks some minutes farther back than it is asked to, and finds nothing where that is before 1970."""
_WHOLE = {"nocache": "1", "deny_partial_response": "1"}
"""No answer from a cache, which is half a minute old; none of a cluster of which a part is away."""


class PrometheusReader:
    """Reads through one pool of connections, which stay open. The library is imported when first needed."""

    def __init__(self, access: ReadAccess) -> None:
        try:
            import urllib3
        except ImportError as error:
            raise ArchiveError(
                "[archive] needs one more package. To mend: pip install 'rearing-monitor[archive]'."
            ) from error
        self._access = access
        self._root = access.url.rstrip("/") + "/api/v1/"
        headers = {"Accept-Encoding": "gzip"}
        if access.secret:
            headers["Authorization"] = f"Bearer {access.secret}"
        self._pool = urllib3.PoolManager(
            headers=headers,
            maxsize=_MOST_CONNECTIONS,
            timeout=urllib3.Timeout(connect=_CONNECT_TIMEOUT_S, read=access.timeout_s),
            retries=urllib3.Retry(1, redirect=0, status=0, raise_on_redirect=False, allowed_methods=None),
        )

    def prove(self) -> None:
        """Raise unless the server can count in this language, and exports."""
        rows = self._ask("40 + 2", 1)
        if [value for _, value in rows] != [42.0]:
            raise not_such_a_server(self._access, "VictoriaMetrics")
        for _ in self._series('{__name__="rearing_monitor_asks_for_nothing"}', 0, 1):
            raise not_such_a_server(self._access, "VictoriaMetrics")

    def sites(self, start_ms: int, end_ms: int) -> tuple[str, ...]:
        """The sites, by whole days."""
        span = {"start": _seconds(start_ms), "end": _seconds(end_ms - 1), **_WHOLE}
        with self._request(f"label/{SITE_TAG}/values", span) as response, self._understood():
            names = _data_of(json.loads(response.data))
            return tuple(sorted(str(name) for name in names))

    def span(self, site: str, start_ms: int, end_ms: int) -> tuple[int, int] | None:
        """The first and the last time, each from one figure."""
        if start_ms >= end_ms:
            return None
        name = f"{_NAME}=~{_quoted(f'.+{_SEPARATOR}{FLAG_FIELD}')}"
        window = _window(f"{{{name},{_matcher(SITE_TAG, site)},{NODE_TAG}!=''}}", start_ms, end_ms)
        first, last = (
            self._ask(f"{across}({rollup}({window}))", end_ms)
            for across, rollup in (_ROLLUPS[Over.FIRST_MS], _ROLLUPS[Over.LAST_MS])
        )
        return (_whole_ms(first[0][1]), _whole_ms(last[0][1])) if first and last else None

    def readings(
        self, site: str, start_ms: int, end_ms: int, sensors: Iterable[SensorKey] | None = None
    ) -> Iterator[SensorReadings]:
        """Readings of a site, from one export of values and flags."""
        wanted = None if sensors is None else frozenset(sensors)
        if wanted is not None and not wanted:
            return
        fields = f"({VALUE_FIELD}|{FLAG_FIELD})"
        quantities, nodes = ".+", f'{NODE_TAG}!=""'
        if wanted is not None:
            quantities = f"({_one_of(key.quantity for key in wanted)})"
            nodes = f"{NODE_TAG}=~{_quoted(_one_of(key.node for key in wanted))}"
        name = f"{_NAME}=~{_quoted(f'{quantities}{_SEPARATOR}{fields}')}"
        selector = f"{{{name},{_matcher(SITE_TAG, site)},{nodes}}}"
        for readings in paired(self._series(selector, start_ms, end_ms)):
            if wanted is None or readings.sensor in wanted:
                yield readings

    def points(self, selection: Selection, start_ms: int, end_ms: int) -> Iterator[Points]:
        """Every point of the selected series, from an export."""
        return points_of(self._series(_selector(selection), start_ms, end_ms))

    def last(self, selection: Selection, by: Sequence[str], start_ms: int, end_ms: int) -> tuple[Newest, ...]:
        """Value and time of the newest point of each series in one query, so that they belong together."""
        if start_ms >= end_ms:
            return ()
        window = _window(_selector(selection), start_ms, end_ms)
        query = f"aggr_over_time(('{_LAST}', '{_TIME_OF_LAST}'), {window})"
        values: dict[tuple[tuple[str, str], ...], float] = {}
        times: dict[tuple[tuple[str, str], ...], float] = {}
        for tags, number in self._ask(query, end_ms):
            numbers = times if tags.pop(_WHICH, "") == _TIME_OF_LAST else values
            numbers[tuple(sorted(tags.items()))] = number
        newest = (
            (dict(series), _whole_ms(seconds), values[series])
            for series, seconds in times.items()
            if series in values
        )
        return newest_of(newest, by)

    def aggregate(
        self, selection: Selection, over: Over, by: Sequence[str], start_ms: int, end_ms: int
    ) -> tuple[Figure, ...]:
        """Worked out by the server: over the span for each series, then over the series of each group."""
        if start_ms >= end_ms:
            return ()
        across, rollup = _ROLLUPS[over]
        window = _window(_selector(selection), start_ms, end_ms)
        query = f"{across}({rollup}({window})) by ({','.join(by)})"
        figures = (
            Figure(
                {name: tags.get(name, "") for name in by},
                float(_whole_ms(number)) if over in _TIMES else number,
            )
            for tags, number in self._ask(query, end_ms)
        )
        return tuple(sorted(figures, key=lambda figure: tuple(figure.tags.values())))

    def close(self) -> None:
        """Close the connections."""
        self._pool.clear()

    def _ask(self, query: str, end_ms: int) -> list[tuple[dict[str, str], float]]:
        """An instant query about what lies before a moment; a window of n ms reaches from there n ms back."""
        asked = {"query": query, "time": _seconds(end_ms - 1), **_WHOLE}
        with self._request("query", asked) as response, self._understood():
            data = _data_of(json.loads(response.data))
            rows = [(dict(row["metric"]), float(row["value"][1])) for row in data["result"]]
        return [(tags, number) for tags, number in rows if not math.isnan(number)]

    def _series(self, selector: str, start_ms: int, end_ms: int) -> Iterator[Series]:
        """The raw points of the selected series, line by line of an export."""
        if start_ms >= end_ms:
            return
        asked = {
            "match[]": selector,
            "start": _seconds(start_ms),
            "end": _seconds(end_ms - 1),
            **_WHOLE,
        }
        with self._request("export", asked) as response:
            for line in response:
                with self._understood():
                    series = _series_of(json.loads(line))
                yield series

    @contextmanager
    def _request(self, path: str, fields: Mapping[str, str]) -> Iterator[BaseHTTPResponse]:
        """The answer to a question, not yet read; faults of the way in and after it become named errors."""
        from urllib3.exceptions import HTTPError

        try:
            response = self._pool.request(
                "POST", self._root + path, fields=dict(fields), encode_multipart=False, preload_content=False
            )
        except (HTTPError, OSError) as error:
            raise no_answer(self._access, error) from error
        try:
            if response.status != 200:
                raise refusal(self._access, response.status, _reason(response.data))
            yield response
        except (HTTPError, OSError) as error:
            response.close()
            raise no_answer(self._access, error) from error
        except BaseException:
            response.close()
            raise
        response.release_conn()

    @contextmanager
    def _understood(self) -> Iterator[None]:
        try:
            yield
        except (ValueError, KeyError, TypeError, AttributeError, IndexError) as error:
            raise not_understood(self._access, error) from error


def _series_of(row: Mapping[str, Any]) -> Series:
    tags = dict(row["metric"])
    measurement, _, field = tags.pop(_NAME).rpartition(_SEPARATOR)
    at_ms = np.array(row["timestamps"], dtype=np.int64)
    value = np.array(row["values"], dtype=np.float64)
    if at_ms.shape != value.shape:
        raise ValueError("a series that is not whole")
    return Series(measurement, field, tags, at_ms, value)


def _data_of(answer: Mapping[str, Any]) -> Any:
    if answer["status"] != "success" or answer.get("isPartial"):
        raise ValueError(str(answer.get("error", "an answer that is not whole")))
    return answer["data"]


def _reason(body: bytes) -> str:
    text = body.decode("utf-8", "replace")
    try:
        answer = json.loads(text)
    except ValueError:
        return text
    return str(answer.get("error") or text) if isinstance(answer, dict) else text


def _selector(selection: Selection) -> str:
    name = f"{selection.measurement}{_SEPARATOR}{selection.field}"
    matchers = [_matcher(_NAME, name), *(_matcher(tag, texts) for tag, texts in selection.tags.items())]
    return "{" + ",".join(matchers) + "}"


def _window(selector: str, start_ms: int, end_ms: int) -> str:
    """The points of a span, asked for at its last millisecond."""
    return f"{selector}[{end_ms - max(start_ms, min(_EARLIEST_MS, end_ms - 1))}ms]"


def _matcher(tag: str, allowed: str | Sequence[str]) -> str:
    if isinstance(allowed, str):
        return f"{tag}={_quoted(allowed)}"
    return f"{tag}=~{_quoted(_one_of(allowed))}"


def _one_of(texts: Iterable[str]) -> str:
    """A pattern that fits each of the texts whole; one that fits nothing where there are none."""
    return "|".join(re.escape(text) for text in sorted(set(texts))) or r"\b\B"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _seconds(at_ms: int) -> str:
    return f"{at_ms // MS_PER_SECOND}.{at_ms % MS_PER_SECOND:03d}"


def _whole_ms(seconds: float) -> int:
    return round(seconds * MS_PER_SECOND)
