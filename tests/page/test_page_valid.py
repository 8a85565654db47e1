"""Every page is valid HTML: html5lib in strict mode finds no error, and no id stands twice."""

from __future__ import annotations

import re
from collections import Counter, deque

import html5lib
import httpx

MOST_PAGES = 80


def crawl(client: httpx.Client, first: str = "/") -> dict[str, str]:
    """Pages that can be reached by links, by path."""
    found: dict[str, str] = {}
    waiting = deque([first])
    while waiting and len(found) < MOST_PAGES:
        path = waiting.popleft()
        if path in found:
            continue
        answer = client.get(path)
        if answer.headers.get("content-type", "").startswith("text/html"):
            found[path] = answer.text
            waiting += [link.replace("&amp;", "&") for link in re.findall(r'href="(/[^"#]*)', answer.text)]
    return found


def problems(text: str) -> list[str]:
    """What is wrong with one page."""
    parser = html5lib.HTMLParser(strict=False)
    parser.parse(text)
    wrong = [f"{code} at {place}" for place, code, _ in parser.errors]
    ids = Counter(re.findall(r'\sid="([^"]+)"', text))
    return wrong + [f"id {name} stands {count} times" for name, count in ids.items() if count > 1]


def test_every_page_that_links_lead_to_is_valid(owner: httpx.Client) -> None:
    pages = crawl(owner)
    assert len(pages) > 15
    assert {path: problems(text) for path, text in pages.items() if problems(text)} == {}


def test_the_login_page_is_valid(new_client: object) -> None:
    text = new_client().get("/login").text  # type: ignore[operator]
    assert problems(text) == []


def test_the_check_itself_finds_faults() -> None:
    assert problems("<!doctype html><title>x</title><p id=a><p id='b'><div></p>")
