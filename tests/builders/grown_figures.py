"""What a grown farm costs, as JSON: `python grown_figures.py FOLDER`, a process for each farm."""

from __future__ import annotations

import json
import re
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path

import httpx
from year_page import NOW_MS, PASSWORD, about

from monitor.farm.cohorts import forecast_view
from monitor.farm.forecast_cache import give_back_memory, let_rest, one_heap
from monitor.page.context import PageContext
from monitor.page.security import hash_password
from monitor.page.server import PageServer
from monitor.page.serving import compile_templates
from monitor.records import SubjectKind
from monitor.settings.loading import load
from monitor.settings.plan import Plan, build_plan
from monitor.store import Store

LOOKS = 7
PATIENCE_S = 0.05


@dataclass(frozen=True)
class Figures:
    """CPU of the whole process [ms], of answers the median.

    `first_wall_ms` is what a person waits for the list of cohorts with nothing at hand, `entry_wall_ms` after
    an entry; bytes before they are compressed, and as sent; memory at the end and at its highest [MB].
    """

    forecast_ms: float
    now_ms: float
    night_ms: float
    first_night_ms: float
    cohorts_ms: float
    first_wall_ms: float
    entry_wall_ms: float
    cohorts_bytes: int
    cohorts_sent: int
    resident_mb: float
    highest_mb: float


def cpu_ms(work: Callable[[], object]) -> float:
    started = time.process_time()
    work()
    return 1000 * (time.process_time() - started)


def wall_ms(work: Callable[[], object]) -> float:
    started = time.perf_counter()
    work()
    return 1000 * (time.perf_counter() - started)


def memory_mb(name: str) -> float:
    found = re.search(rf"^{name}:\s+(\d+) kB", Path("/proc/self/status").read_text(encoding="ascii"), re.M)
    return 0.0 if found is None else int(found[1]) / 1024


@contextmanager
def served(context: PageContext) -> Iterator[httpx.Client]:
    server = PageServer(context, port=0)
    server.start()
    with httpx.Client(base_url=server.address, trust_env=False, timeout=600.0) as client:
        token = client.get("/login").text.partition('name="form_token" value="')[2].partition('"')[0]
        client.post("/login", data={"form_token": token, "password": PASSWORD})
        yield client
    server.stop()


def enter(path: Path) -> None:
    """An entry about a cohort by another program, of which what is kept knows nothing."""
    with Store.open(path, create=False, check=False) as store:
        if store.logbook.newest_id():
            entry = about(SubjectKind.COHORT, "c-1", "count", NOW_MS, animals=1900.0, stage="larva")
            store.logbook.add(entry)


def looked_at(client: httpx.Client, page: str) -> float:
    return statistics.median(cpu_ms(lambda: client.get(page)) for _ in range(LOOKS))


def figures(plan: Plan) -> Figures:
    path = plan.settings.store.path
    with Store.read_only(path) as store:
        forecast_ms = min(cpu_ms(lambda: forecast_view(store, plan, NOW_MS)) for _ in range(3))
    password = hash_password(PASSWORD)
    context = PageContext(path, lambda: plan, lambda: NOW_MS, password, patience_s=PATIENCE_S)
    compile_templates()
    with served(context) as client:
        first_wall_ms = wall_ms(lambda: client.get("/cohorts"))
        context.forecasts.make_ready(plan, NOW_MS, context.reading)
        let_rest()
        first_night_ms = cpu_ms(lambda: client.get("/night"))
        looks = {page: looked_at(client, page) for page in ("/", "/night", "/cohorts")}
        page = client.get("/cohorts")
        enter(path)
        entry_wall_ms = wall_ms(lambda: client.get("/cohorts"))
        context.forecasts.cohorts(context.reading(), plan, NOW_MS, context.reading).complete()
        give_back_memory()
        return Figures(
            forecast_ms,
            looks["/"],
            looks["/night"],
            first_night_ms,
            looks["/cohorts"],
            first_wall_ms,
            entry_wall_ms,
            len(page.content),
            page.num_bytes_downloaded,
            memory_mb("VmRSS"),
            memory_mb("VmHWM"),
        )


if __name__ == "__main__":
    one_heap()
    print(json.dumps(asdict(figures(build_plan(load(Path(sys.argv[1]) / "farm.toml", {}))))))
