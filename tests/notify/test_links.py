"""Links that acknowledge: signed, single-use, expiring."""

from __future__ import annotations

from dataclasses import astuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import UsageError
from monitor.notify.links import (
    LIFETIME_MS,
    PURPOSE,
    Claim,
    new_nonce,
    redeem,
    serializer,
    sign,
    verify,
)

KEY = b"k" * 32
NOW = 1_764_000_000_000
CLAIM = Claim("bin-3/substrate_temperature/high/high", "anna", NOW - 60_000, NOW + LIFETIME_MS, "nonce")


def test_a_token_comes_back_as_its_claim() -> None:
    token = sign(CLAIM, KEY)
    assert verify(token, KEY, NOW) == CLAIM
    assert set(token) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_.")
    assert len(token) < 300


def test_it_expires() -> None:
    token = sign(CLAIM, KEY)
    assert verify(token, KEY, CLAIM.expires_ms - 1) == CLAIM
    with pytest.raises(UsageError, match="expired"):
        verify(token, KEY, CLAIM.expires_ms)


def test_another_key_or_a_changed_letter_is_refused() -> None:
    token = sign(CLAIM, KEY)
    with pytest.raises(UsageError, match="not valid"):
        verify(token, b"other" * 8, NOW)
    for place in range(len(token)):
        changed = token[:place] + ("A" if token[place] != "A" else "B") + token[place + 1 :]
        with pytest.raises(UsageError, match="not valid"):
            verify(changed, KEY, NOW)


@given(st.text(max_size=700))
def test_no_text_from_outside_raises_anything_else(token: str) -> None:
    with pytest.raises(UsageError):
        verify(token, KEY, NOW)


def test_a_signed_token_of_another_shape_is_refused() -> None:
    for claim in ((), ("a",), "text", 7, None):
        with pytest.raises(UsageError, match="not valid"):
            verify(str(serializer(KEY, PURPOSE).dumps(claim)), KEY, NOW)


def test_a_token_of_another_purpose_is_refused() -> None:
    other = str(serializer(KEY, "session").dumps(astuple(CLAIM)))
    with pytest.raises(UsageError, match="not valid"):
        verify(other, KEY, NOW)


def test_it_works_once() -> None:
    spent: set[str] = set()

    def spend(nonce: str, expires_ms: int) -> bool:
        assert expires_ms == CLAIM.expires_ms
        is_first = nonce not in spent
        spent.add(nonce)
        return is_first

    token = sign(CLAIM, KEY)
    assert redeem(token, KEY, NOW, spend) == CLAIM
    with pytest.raises(UsageError, match="used already"):
        redeem(token, KEY, NOW, spend)


def test_numbers_do_not_repeat() -> None:
    assert len({new_nonce() for _ in range(50)}) == 50
