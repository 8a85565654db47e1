"""Links that acknowledge: signed, single-use, expiring."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import UsageError
from monitor.notify.links import LIFETIME_MS, Claim, SpentNonces, new_key, new_nonce, redeem, sign, verify

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
        verify(token, new_key(), NOW)
    for place in range(len(token)):
        changed = token[:place] + ("A" if token[place] != "A" else "B") + token[place + 1 :]
        with pytest.raises(UsageError, match="not valid"):
            verify(changed, KEY, NOW)


@given(st.text(max_size=700))
def test_no_text_from_outside_raises_anything_else(token: str) -> None:
    with pytest.raises(UsageError):
        verify(token, KEY, NOW)


def test_a_signed_token_of_another_shape_is_refused() -> None:
    for claim in ((), ("a",), "text"):
        token = sign(CLAIM, KEY)
        payload, _, _ = token.partition(".")
        assert payload
        from monitor.notify import links

        other = links._encoded(repr(claim).encode())
        with pytest.raises(UsageError, match="not valid"):
            verify(f"{other}.{links._signature(other, KEY)}", KEY, NOW)


def test_it_works_once() -> None:
    spent = SpentNonces(lambda: NOW)
    token = sign(CLAIM, KEY)
    assert redeem(token, KEY, NOW, spent.spend) == CLAIM
    with pytest.raises(UsageError, match="used already"):
        redeem(token, KEY, NOW, spent.spend)


def test_spent_numbers_are_forgotten_once_expired() -> None:
    now = [NOW]
    spent = SpentNonces(lambda: now[0])
    assert spent.spend("a", NOW + 10)
    now[0] = NOW + 10
    assert spent.spend("b", NOW + 20)
    assert list(spent._spent) == ["b"]


def test_keys_and_numbers_do_not_repeat() -> None:
    assert len({new_key() for _ in range(50)}) == len({new_nonce() for _ in range(50)}) == 50
    assert len(new_key()) == 32
