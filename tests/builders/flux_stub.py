"""A small server that answers the few forms of Flux that the reader writes, in annotated CSV.

The CSV is written as the published specification describes it: three rows of annotations before each table,
types and group keys in them, CRLF at the end of a line. What it holds is an archive in memory.
"""

from __future__ import annotations

import csv
import gzip
import io
import json
import re
import threading
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from archive_memory import MemoryArchive

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_STRING = r'"((?:[^"\\]|\\.)*)"'
_CONDITION = re.compile(
    rf"not exists r\[{_STRING}\]|exists r\[{_STRING}\]|r\[{_STRING}\] == {_STRING}|r\.(\w+) == {_STRING}"
)
_RANGE = re.compile(r"range\(start: (\S+?), stop: (\S+?)\)")
_Points = list[tuple[int, float]]
_FOLDS: Mapping[str, Callable[[_Points], tuple[int | None, float]]] = {
    "min": lambda points: min(points, key=lambda point: point[1]),
    "max": lambda points: max(points, key=lambda point: point[1]),
    "first": lambda points: points[0],
    "last": lambda points: points[-1],
    "sum": lambda points: (None, sum(value for _, value in points)),
    "count": lambda points: (None, len(points)),
}


class FluxStub:
    """`token`, where set, must be sent; `answer`, where set, is sent in place of the right one."""

    def __init__(self, archive: MemoryArchive) -> None:
        self.archive = archive
        self.token = ""
        self.answer: tuple[int, bytes] | None = None
        self.queries: list[str] = []
        stub = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers["Content-Length"]))
                if self.headers.get("Content-Encoding") == "gzip":
                    body = gzip.decompress(body)
                status, answer = stub.reply(self.path, self.headers.get("Authorization", ""), body)
                self.send_response(status)
                self.send_header("Content-Type", "text/csv" if status == 200 else "application/json")
                self.send_header("Content-Length", str(len(answer)))
                self.end_headers()
                self.wfile.write(answer)

            def log_message(self, format: str, *args: object) -> None:
                """Keep quiet."""

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        self.url = f"http://127.0.0.1:{self._server.server_address[1]}"
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,))
        self._thread.start()

    def close(self) -> None:
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()

    def reply(self, path: str, authorization: str, body: bytes) -> tuple[int, bytes]:
        if self.answer is not None:
            return self.answer
        if not path.startswith("/api/v2/query"):
            return 404, b'{"code": "not found", "message": "path not found"}'
        if self.token and authorization != f"Token {self.token}":
            return 401, b'{"code": "unauthorized", "message": "unauthorized access"}'
        query = json.loads(body)["query"]
        self.queries.append(query)
        return 200, self.evaluated(query).encode()

    def evaluated(self, query: str) -> str:
        """What the server would answer."""
        if "array.from" in query:
            return table_csv([("_value", "long", False)], [[42]])
        start_ms, end_ms = (_ms(text) for text in _range_of(query))
        if "schema.tagValues" in query:
            return table_csv(
                [("_value", "string", False)], [[site] for site in self.archive.sites(start_ms, end_ms)]
            )
        parts = query.split(" |> ")
        conditions = parts[2] if len(parts) > 2 and parts[2].startswith("filter") else ""
        function = parts[3].partition("(")[0] if len(parts) > 3 else ""
        tables: list[str] = []
        for measurement, name, tags, points in self.archive.series(start_ms, end_ms):
            row = {**tags, "_measurement": measurement, "_field": name}
            if _holds(conditions, row):
                folded = [_FOLDS[function](points)] if function else points
                tables.append(series_csv(len(tables), row, (start_ms, end_ms), folded))
        return "\r\n".join(tables)


def series_csv(
    number: int, key: Mapping[str, str], span_ms: tuple[int, int], points: Iterable[tuple[int | None, float]]
) -> str:
    """One table of one series; without `_time` where its points have none."""
    rows = list(points)
    timed = rows[0][0] is not None
    whole = all(isinstance(value, int) for _, value in rows) or key["_field"] == "flag"
    columns = [
        ("_start", "dateTime:RFC3339", True),
        ("_stop", "dateTime:RFC3339", True),
        *([("_time", "dateTime:RFC3339", False)] if timed else []),
        ("_value", "long" if whole else "double", False),
        *((name, "string", True) for name in sorted(key)),
    ]
    span = [_rfc3339(at_ms) for at_ms in span_ms]
    cells: list[list[object]] = [
        [
            *span,
            *([_rfc3339(at_ms)] if at_ms is not None else []),
            int(value) if whole else value,
            *(key[name] for name in sorted(key)),
        ]
        for at_ms, value in rows
    ]
    return table_csv(columns, cells, number)


def table_csv(columns: list[tuple[str, str, bool]], rows: list[list[object]], number: int = 0) -> str:
    """Annotated CSV: `columns` are name, type, and whether it belongs to the group key."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(["#datatype", "string", "long", *(kind for _, kind, _ in columns)])
    writer.writerow(["#group", "false", "false", *(str(key).lower() for _, _, key in columns)])
    writer.writerow(["#default", "_result", "", *("" for _ in columns)])
    writer.writerow(["", "result", "table", *(name for name, _, _ in columns)])
    for row in rows:
        writer.writerow(["", "", number, *row])
    return stream.getvalue()


def _range_of(query: str) -> tuple[str, str]:
    found = _RANGE.search(query) or re.search(r"start: (\S+?), stop: (\S+?)\)", query)
    assert found is not None, query
    return found.group(1), found.group(2)


def _ms(text: str) -> int:
    return (datetime.fromisoformat(text) - _EPOCH) // timedelta(milliseconds=1)


def _rfc3339(at_ms: int) -> str:
    moment = _EPOCH + timedelta(milliseconds=at_ms)
    return f"{moment:%Y-%m-%dT%H:%M:%S}.{at_ms % 1000:03d}Z"


def _holds(conditions: str, row: Mapping[str, str]) -> bool:
    """The condition with each comparison put in as true or false; `and`, `or` and brackets stay."""
    if not conditions:
        return True
    body = conditions.removeprefix("filter(fn: (r) => ").removesuffix(")")
    return bool(eval(_CONDITION.sub(lambda found: str(_is_so(found, row)), body), {"false": False}))


def _is_so(found: re.Match[str], row: Mapping[str, str]) -> bool:
    lacking, existing, tag, text, column, other = found.groups()
    if lacking is not None:
        return _unescaped(lacking) not in row
    if existing is not None:
        return _unescaped(existing) in row
    name = column if tag is None else _unescaped(tag)
    return row.get(name) == _unescaped(other if tag is None else text)


def _unescaped(text: str) -> str:
    assert "${" not in text.replace("\\${", ""), "Flux would work out what stands in ${ }"
    plain = {"n": "\n", "r": "\r", "t": "\t"}
    return re.sub(r"\\(.)", lambda found: plain.get(found.group(1), found.group(1)), text)
