"""`ack`, `shelve`, `unshelve`, `take-out`, `put-back`, `send-test` as a person calls them."""

from __future__ import annotations

import http.server
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace

import pytest
from cli_farm import (
    AIR,
    EARLY,
    HOT,
    MINUTE_MS,
    WARM,
    Farm,
    answering,
    now_ms,
    put,
    put_states,
    reading,
    standing,
)

from monitor.cli import setup
from monitor.errors import sentence
from monitor.farm.names import numbers
from monitor.records import AlarmState, AlarmStatus, Command, MessageKind, OutboxMessage
from monitor.store.kept_sentences import refused
from monitor.terminal import context

Call = Callable[..., tuple[int, str, str]]


def _pending(farm: Farm) -> list[Command]:
    with farm.store() as store:
        return list(store.commands.pending())


def _returned(alarm_id: str) -> AlarmState:
    return AlarmState(alarm_id, AlarmStatus.RETURNED_UNACKNOWLEDGED, False, False, now_ms())


def test_ack_of_a_place_reaches_the_running_service(farm: Farm, call: Call) -> None:
    farm.lives()
    put_states(farm, standing())
    with answering(farm) as asked:
        code, out, err = call("ack", "bin-1", "--by", "Naledi")
    assert (code, err) == (0, "")
    assert out == "acknowledged: bin-1: substrate temperature above 42 °C (high), by Naledi\n"
    assert asked == [f"acknowledge {HOT}"]


def test_decisions_and_refusals_are_told_in_the_language_of_the_site(farm: Farm, call: Call) -> None:
    text = farm.config.read_text(encoding="utf-8")
    farm.config.write_text(text.replace("[site]\n", '[site]\nlanguage = "fr"\n'), encoding="utf-8")
    farm.lives()
    put_states(farm, standing())
    with answering(farm):
        _, out, _ = call("ack", "bin-1", "--by", "Naledi")
    assert out == "vue : bin-1 : température du substrat au-dessus de 42 °C (haute), par Naledi\n"
    put_states(farm, standing(acknowledged=True))
    code, _, err = call("ack", HOT)
    assert code == 2
    assert f"ne peut pas être vue maintenant : {HOT} : vue." in err


@pytest.mark.parametrize("how", ["number", "name", "none", "all"])
def test_ack_takes_a_number_a_name_or_the_only_one(farm: Farm, call: Call, how: str) -> None:
    farm.lives()
    put_states(farm, standing(), replace(standing(WARM), status=AlarmStatus.ACKNOWLEDGED))
    names = {"number": [str(numbers(farm.plan())[HOT])], "name": [HOT], "none": [], "all": ["--all"]}
    with answering(farm) as asked:
        assert call("ack", *names[how])[0] == 0
    assert asked == [f"acknowledge {HOT}"]


def test_ack_all_acknowledges_what_is_over_too(farm: Farm, call: Call) -> None:
    farm.lives()
    put_states(farm, standing(), _returned(WARM))
    with answering(farm) as asked:
        assert call("ack", "--all")[0] == 0
    assert sorted(asked) == sorted([f"acknowledge {HOT}", f"acknowledge {WARM}"])


def test_ack_over_acknowledges_what_is_over_as_it_stood_and_nothing_that_stands(
    farm: Farm, call: Call
) -> None:
    put_states(farm, standing())
    code, out, _ = call("ack", "--over")
    assert (code, out) == (0, "No alarm that is over waits to be acknowledged.\n")
    ended = now_ms() - 60_000
    put_states(farm, replace(_returned(WARM), over_ms=ended))
    assert call("ack", "--over", "--by", "Naledi")[0] == 0
    [command] = _pending(farm)
    assert (command.alarm_id, command.until_ms, command.actor) == (WARM, ended, "Naledi")
    for also in (["bin-1"], ["--all"]):
        assert call("ack", "--over", *also)[0] == 2
    assert len(_pending(farm)) == 1


def test_ack_of_a_place_takes_both_limits_of_one_thing(farm: Farm, call: Call) -> None:
    farm.lives()
    put_states(farm, standing(), standing(WARM))
    with answering(farm) as asked:
        assert call("ack", "bin-1")[0] == 0
    assert asked == [f"acknowledge {HOT}", f"acknowledge {WARM}"]


def test_ack_lists_the_choices_when_several_wait(farm: Farm, call: Call) -> None:
    put_states(farm, standing(), standing(EARLY))
    for arguments in (("ack",), ("ack", "bin-1")):
        code, _, err = call(*arguments)
        assert code == 2
        assert HOT in err
        assert EARLY in err
    assert _pending(farm) == []


def test_ack_of_what_is_acknowledged_is_refused(farm: Farm, call: Call) -> None:
    put_states(farm, standing(acknowledged=True))
    code, _, err = call("ack", HOT)
    assert code == 2
    assert f"this cannot be acknowledged now: {HOT}: acknowledged" in err


def test_ack_with_nothing_to_acknowledge(farm: Farm, call: Call) -> None:
    put_states(farm)
    assert call("ack") == (2, "", "no alarm waits to be acknowledged\n")
    assert call("ack", "--all")[:2] == (0, "No alarm waits to be acknowledged.\n")


def test_without_the_service_it_is_kept_for_its_start(farm: Farm, call: Call) -> None:
    put_states(farm, standing())
    code, out, err = call("ack", "bin-1", "--by", "Naledi", "--reason", "on my way")
    assert code == 0
    assert "The monitor does not run, so nothing is guarded now." in err
    assert "will be done when it starts" in err
    assert out.startswith("kept for the monitor, to be acknowledged: bin-1")
    [command] = _pending(farm)
    assert (command.alarm_id, command.actor, command.reason) == (HOT, "Naledi", "on my way")


def test_a_service_that_does_not_answer_is_told(
    farm: Farm, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(context, "WAIT_S", 0.1)
    farm.lives()
    put_states(farm, standing())
    code, _, err = call("ack", "bin-1")
    assert code == 0
    assert "has not answered within 0.1 seconds" in err


@pytest.mark.parametrize(
    ("language", "said"), [("en", "there is no alarm 'x'"), ("fr", "il n’y a pas d’alarme")]
)
def test_what_the_service_refuses_is_told_in_the_language_of_the_reader(
    farm: Farm, call: Call, language: str, said: str
) -> None:
    text = farm.config.read_text(encoding="utf-8")
    farm.config.write_text(text.replace("[site]\n", f'[site]\nlanguage = "{language}"\n'), encoding="utf-8")
    farm.lives()
    put_states(farm, standing())
    english = "there is no alarm '{alarm}'; `rearing-monitor alarms` lists those that are active"
    with answering(farm, refused(sentence(english, alarm="x"))):
        code, _, err = call("ack", "bin-1")
    assert code == 2
    assert err.startswith(said)


def test_what_the_service_refuses_is_told(farm: Farm, call: Call) -> None:
    farm.lives()
    put_states(farm, standing())
    with answering(farm, "refused: an alarm that is normal cannot take the event acknowledge"):
        code, _, err = call("ack", "bin-1")
    assert code == 2
    assert err == "an alarm that is normal cannot take the event acknowledge\n"


def test_shelve_for_a_while(farm: Farm, call: Call) -> None:
    put_states(farm, standing())
    before_ms = now_ms()
    assert call("shelve", "bin-1", "--for", "2 h", "--reason", "stirring")[0] == 0
    [command] = _pending(farm)
    assert command.until_ms is not None
    assert 0 <= command.until_ms - before_ms - 120 * MINUTE_MS < 10_000


def test_shelve_until_a_time_means_the_next_such_time(farm: Farm, call: Call) -> None:
    put_states(farm, standing())
    assert call("shelve", "bin-1", "--until", "06:00")[0] == 0
    [command] = _pending(farm)
    assert command.until_ms is not None
    assert 0 < command.until_ms - now_ms() <= 24 * 60 * MINUTE_MS


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        (("--for", "8 days"), "at most 7 days. For longer: rearing-monitor take-out"),
        (("--until", "yesterday 18:00"), "allowed: an end that is ahead"),
        (("--for", "a while"), "'a while' is no length of time; allowed: 30 min"),
        (("--until", "soon"), "'soon' is no time that is understood; allowed: now"),
    ],
)
def test_shelve_refuses_an_end_that_cannot_be(
    farm: Farm, call: Call, arguments: tuple[str, ...], part: str
) -> None:
    put_states(farm, standing())
    code, _, err = call("shelve", "bin-1", *arguments)
    assert code == 2
    assert part in err
    assert _pending(farm) == []


def test_shelve_prefers_the_alarm_that_stands(farm: Farm, call: Call) -> None:
    put_states(farm, standing(WARM))
    assert call("shelve", "bin-1")[0] == 0
    assert [command.alarm_id for command in _pending(farm)] == [WARM]


def test_shelve_of_a_quiet_place_lists_its_alarms(farm: Farm, call: Call) -> None:
    put_states(farm)
    code, _, err = call("shelve", "bin-1")
    assert code == 2
    assert "several alarms can be shelved" in err


@pytest.mark.parametrize(
    ("command", "status", "kind"),
    [
        ("unshelve", AlarmStatus.SHELVED, "unshelve"),
        ("put-back", AlarmStatus.OUT_OF_SERVICE, "return_to_service"),
        ("take-out", AlarmStatus.ACKNOWLEDGED, "take_out_of_service"),
    ],
)
def test_the_other_decisions(farm: Farm, call: Call, command: str, status: AlarmStatus, kind: str) -> None:
    put_states(farm, replace(standing(), status=status))
    assert call(command, "bin-1")[0] == 0
    assert [(each.kind.value, each.alarm_id) for each in _pending(farm)] == [(kind, HOT)]


@pytest.mark.parametrize("command", ["unshelve", "put-back"])
def test_nothing_to_bring_back_is_refused(farm: Farm, call: Call, command: str) -> None:
    put_states(farm, standing())
    code, _, err = call(command, HOT)
    assert code == 2
    assert "nobody has acknowledged it" in err


# send-test


def test_send_test_without_the_service_sends_from_here(farm: Farm, call: Call) -> None:
    code, out, err = call("send-test")
    assert (code, err) == (0, "")
    assert "owner: sent" in out
    [message] = list(farm.inbox.iterdir())
    assert "Sand Hill" in message.read_text()


def test_send_test_tells_why_a_message_was_not_taken(
    farm: Farm, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    with _refusing_webhook() as port:
        monkeypatch.setenv("OWNER_ADDRESS", f"json://127.0.0.1:{port}/very-secret-path")
        code, _, err = call("send-test", "owner")
    assert code == 5
    assert err.startswith("owner: not sent: ")
    assert "very-secret-path" not in err
    assert farm.config.exists()


@contextmanager
def _refusing_webhook() -> Iterator[int]:
    class Refusing(http.server.BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            self.send_response(403)
            self.end_headers()

        def log_message(self, *_: object) -> None:
            pass

    server = http.server.HTTPServer(("127.0.0.1", 0), Refusing)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield server.server_port
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


@pytest.mark.usefixtures("farm")
def test_send_test_to_nobody_known_names_those_that_are(call: Call) -> None:
    assert call("send-test", "neighbour") == (2, "", 'there is no recipient "neighbour"; allowed: owner\n')


def test_send_test_without_recipients_says_what_to_add(farm: Farm, call: Call) -> None:
    text = farm.config.read_text()
    farm.config.write_text(text[: text.index("[[recipients]]")])
    code, _, err = call("send-test")
    assert code == 2
    assert "add a [[recipients]] table" in err


def test_send_test_asks_the_running_service_and_waits_for_the_channel(farm: Farm, call: Call) -> None:
    put(farm, reading(AIR, now_ms(), 27.0))
    farm.lives()
    with answering(farm) as asked, _sending(farm):
        code, out, _ = call("send-test", "owner")
    assert (code, out) == (0, "owner: sent\n")
    assert asked == ["send_test owner"]


def test_send_test_says_what_the_channel_of_the_service_said(
    farm: Farm, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(setup, "SEND_WAIT_S", 5.0)
    put(farm, reading(AIR, now_ms(), 27.0))
    farm.lives()
    with answering(farm), _sending(farm, "the mail server refused"):
        code, _, err = call("send-test", "owner")
    assert code == 5
    assert err == "owner: not sent yet: the mail server refused. The monitor goes on trying\n"


@contextmanager
def _sending(farm: Farm, error: str = "") -> Iterator[None]:
    """Stands in for the outbox of the service: one test message, sent or refused a little later."""

    def send() -> None:
        with farm.store() as store:
            message = OutboxMessage("owner", MessageKind.TEST, "Test", "Test", now_ms() + 1)
            [number] = store.outbox.add([message])
            if error:
                store.outbox.mark_failed(number, error, now_ms() + MINUTE_MS)
            else:
                store.outbox.mark_sent(number, now_ms())

    timer = threading.Timer(0.2, send)
    timer.start()
    try:
        yield
    finally:
        timer.join()
