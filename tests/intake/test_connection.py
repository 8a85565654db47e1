"""Words for broken connections, delays between attempts, age in the queue."""

from __future__ import annotations

import ssl

import pytest

from monitor.intake import connection
from monitor.settings.schema import BrokerSettings


@pytest.mark.parametrize(
    ("remaining_s", "properties", "age_s"),
    [
        (None, None, None),
        (604_800, None, 0),
        (604_799, None, 0),
        (604_795, None, 5),
        (604_801, None, None),
        (590, [("expiry", "600")], 10),
        (590, [("other", "1"), ("expiry", "600"), ("expiry", "700")], 10),
        (604_000, [("expiry", "1e9")], 800),
        (604_000, [("expiry", "٣")], 800),
        (604_000, [("expiry", "9" * 5000)], 800),
    ],
)
def test_age_is_the_expiry_that_is_used_up(
    remaining_s: int | None, properties: list[tuple[str, str]] | None, age_s: float | None
) -> None:
    assert connection.age_s(remaining_s, properties) == age_s


def test_delay_grows_to_a_limit_and_is_spread() -> None:
    assert [connection.delay_s(failures, 1.0) for failures in range(8)] == [1, 2, 4, 8, 16, 32, 60, 60]
    assert [connection.delay_s(failures, 0.0) for failures in (0, 3, 5000)] == [0.5, 4, 30]


def test_words() -> None:
    assert str(connection.refusal("Not authorized")) == "the broker refused the user name or password"
    assert str(connection.refusal("Quota exceeded")) == "the broker refused the connection: Quota exceeded"
    assert str(connection.lost("Unspecified error")) == "the connection to the broker was lost"
    assert connection.lost("Server shutting down").text.endswith("lost: Server shutting down")
    early = connection.closed_early(BrokerSettings(host="host")).text
    assert early.startswith("the broker at host:1883 hung up")
    assert "it wants a user name and password, it speaks another version of MQTT, the port wants TLS" in early
    assert "no TLS connection to h:1" in str(connection.unreachable("h", 1, ssl.SSLError(1, "wrong version")))
