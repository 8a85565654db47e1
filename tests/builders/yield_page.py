"""The page of a farm whose clock stands still, over HTTP, filled in as a person does."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass

import httpx
from cohort_farm import NOW_MS, CohortFarm
from page_farm import OWNER_HASH, PASSWORD, form_token

from monitor.page.context import PageContext
from monitor.page.server import PageServer


@dataclass(frozen=True, slots=True)
class YieldPage:
    """A browser of the owner, who has logged in."""

    client: httpx.Client

    def text(self, path: str) -> str:
        """A page, which there is."""
        answer = self.client.get(path)
        assert answer.status_code == 200, (path, answer.status_code)
        return answer.text

    def write(self, path: str, **typed: str) -> httpx.Response:
        """Open the form at an address, type into it, and send it; a question is answered with yes."""
        opened = self.text(path)
        kind = httpx.URL(path).params["what"]
        form = {"form_token": form_token(opened), "mark": f"mark-{path}-{sorted(typed.items())}"[:79]}
        answer = self.client.post(path.partition("?")[0], data={**form, "kind": kind, **typed})
        return (
            answer
            if answer.status_code != 200
            else self._confirmed(path, answer, {**form, "kind": kind, **typed})
        )

    def _confirmed(self, path: str, asked: httpx.Response, form: Mapping[str, str]) -> httpx.Response:
        token = {"form_token": form_token(asked.text), "confirmed": _confirmed_of(asked.text)}
        return self.client.post(path.partition("?")[0], data={**form, **token})


def _confirmed_of(text: str) -> str:
    return text.partition('name="confirmed" value="')[2].partition('"')[0]


@contextmanager
def yield_page(farm: CohortFarm) -> Iterator[YieldPage]:
    """Served while inside."""
    context = PageContext(
        store_path=farm.database, plan=farm.plan, clock=lambda: NOW_MS, password=OWNER_HASH, invented=True
    )
    plan = farm.plan()
    context.plan = lambda: plan
    server = PageServer(context, port=0)
    server.start()
    try:
        with httpx.Client(base_url=server.address, trust_env=False) as client:
            client.cookies.set("rearing_view", "en-c")
            data = {"form_token": form_token(client.get("/login").text), "password": PASSWORD, "name": "Ann"}
            assert client.post("/login", data=data).status_code == 303
            yield YieldPage(client)
    finally:
        server.stop()
