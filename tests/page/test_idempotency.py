"""A form does its work once, however often it is sent."""

from __future__ import annotations

import pytest

from monitor.errors import UsageError
from monitor.page.context import MOST_REMEMBERED, IdempotencyGuard


def test_a_form_does_its_work_once_and_may_try_again_after_a_refusal() -> None:
    once, done = IdempotencyGuard(), []

    def refused() -> str:
        raise UsageError("no")

    def work() -> str:
        done.append(1)
        return f"/{len(done)}"

    with pytest.raises(UsageError):
        once.do("a", refused)
    assert [once.do("a", work), once.do("a", work), once.do("b", work)] == ["/1", "/1", "/2"]
    assert [once.do("", work), once.do("", work)] == ["/3", "/4"], "without a mark nothing is remembered"
    for number in range(MOST_REMEMBERED):
        once.do(f"n{number}", work)
    assert once.do("a", work) != "/1", "what is remembered is bounded"
