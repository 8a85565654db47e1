"""Each figure of the messages that a person would feel, on both of its sides."""

from __future__ import annotations

import os
import time
import urllib.request
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random
from types import SimpleNamespace

import pytest
from notify_builders import (
    BERLIN,
    HOUR,
    MINUTE,
    Farm,
    RecordingChannel,
    at,
    circle,
    person,
    rule,
    view,
    with_state,
    words,
)

from monitor.errors import ChannelError, StoreFull, UsageError
from monitor.notify import delivery, outbox_worker, ways
from monitor.notify.channels import AppriseChannel, FolderChannel, open_channel, scrubbed, tell_people
from monitor.notify.channels import _secrets as secrets_of
from monitor.notify.delivery import DeliveryContext
from monitor.notify.links import Claim, sign, verify
from monitor.notify.outbox import MemoryOutbox
from monitor.notify.outbox_worker import OutboxWorker, RecipientQueue, is_held
from monitor.notify.policy import COMMON_CAUSE, quiet_until_ms
from monitor.notify.signals import fetch
from monitor.records import MS_PER_HOUR, AlarmStatus, Computed, MessageKind, OutboxMessage, Priority
from monitor.settings.schema import QuietHours, Settings

NIGHT = at("2026-11-25 02:10")
HIGH = rule()
MEDIUM = rule(Priority.MEDIUM, setpoint=38.0, alarm_id="medium")


def turn(farm: Farm, number: int, now_ms: int) -> DeliveryContext:
    message = farm.outbox.all()[number]
    rows = farm.outbox.messages_for(message.alarm_id or "")
    return DeliveryContext(message, farm.look(message.alarm_id or ""), rows, words(now_ms))


def told(farm: Farm, *alarms: object) -> Farm:
    for alarm in alarms:
        farm.raise_alarm(alarm, NIGHT)  # type: ignore[arg-type]
    return farm


@pytest.mark.parametrize(("waited_ms", "late"), [(2 * MINUTE, False), (2 * MINUTE + 1, True)])
def test_a_message_says_that_it_waited_after_more_than_two_minutes(waited_ms: int, late: bool) -> None:
    farm = told(Farm(circle(person("anna"))), HIGH)
    now = turn(farm, 0, NIGHT + waited_ms)
    assert ("has waited since 02:10" in delivery.final_text(now).body) is late


@pytest.mark.parametrize(("waited_ms", "late"), [(2 * MINUTE, False), (2 * MINUTE + 1, True)])
def test_a_return_says_that_it_waited_after_more_than_two_minutes(waited_ms: int, late: bool) -> None:
    farm = told(Farm(circle(person("anna"))), HIGH)
    farm.outbox.mark_sent(-1, NIGHT)
    farm.clear(HIGH, NIGHT + HOUR)
    now = turn(farm, 1, NIGHT + HOUR + waited_ms)
    assert ("has waited since 03:10" in delivery.final_text(now).body) is late


def test_the_wait_of_a_held_message_counts_from_the_end_of_the_hold() -> None:
    farm = told(Farm(circle(person("anna", quiet=("21:30", "06:00")))), MEDIUM)
    morning = at("2026-11-25 06:00")
    assert "waited" not in delivery.final_text(turn(farm, 0, morning + 2 * MINUTE)).body
    assert "waited since 06:00" in delivery.final_text(turn(farm, 0, morning + 2 * MINUTE + 1)).body


@pytest.mark.parametrize(("age_ms", "reason"), [(HOUR, ""), (HOUR + 1, delivery.OUT_OF_DATE)])
def test_a_test_message_is_of_no_use_after_an_hour(age_ms: int, reason: str) -> None:
    message = OutboxMessage("anna", MessageKind.TEST, "TEST", "body", NIGHT)
    assert delivery.why_not(DeliveryContext(message, None, (), words(NIGHT + age_ms))) == reason


@pytest.mark.parametrize(
    ("attempt", "shortest_s", "longest_s"),
    [(0, 8, 12), (1, 8, 12), (2, 16, 24), (5, 128, 192), (6, 240, 360), (7, 240, 360), (10**6, 240, 360)],
)
def test_the_wait_after_a_refusal_lies_within_a_fifth_of_ten_seconds_doubling_to_five_minutes(
    attempt: int, shortest_s: float, longest_s: float
) -> None:
    class Least(Random):
        def uniform(self, a: float, b: float) -> float:
            return min(a, b)

    class Most(Random):
        def uniform(self, a: float, b: float) -> float:
            return max(a, b)

    assert delivery.backoff_s(attempt, Least()) == pytest.approx(shortest_s)
    assert delivery.backoff_s(attempt, Most()) == pytest.approx(longest_s)


@pytest.mark.parametrize(
    ("hold_ms", "held"), [(-1, False), (0, False), (1, True), (26 * HOUR, True), (26 * HOUR + 1, False)]
)
def test_a_message_is_held_for_26_hours_at_most(hold_ms: int, held: bool) -> None:
    message = OutboxMessage("anna", MessageKind.ALARM, "t", "b", NIGHT, not_before_ms=NIGHT + hold_ms)
    assert is_held(message, NIGHT) is held


def test_a_message_is_known_as_held_only_where_its_time_is_after_its_writing() -> None:
    message = OutboxMessage("anna", MessageKind.ALARM, "t", "b", NIGHT, not_before_ms=NIGHT)
    context = DeliveryContext(message, None, (), words(NIGHT))
    assert not context.held
    assert replace(context, message=replace(message, not_before_ms=NIGHT + 1)).held


@pytest.mark.parametrize(
    ("status", "reason"),
    [(AlarmStatus.RETURNED_UNACKNOWLEDGED, delivery.OVER), (AlarmStatus.ACKNOWLEDGED, delivery.SEEN)],
)
def test_a_message_that_was_not_held_is_told_though_the_alarm_was_answered(
    status: AlarmStatus, reason: str
) -> None:
    """It may be the first that the person hears of it; a reminder is not."""
    farm = told(Farm(circle(person("anna"))), HIGH)
    farm.views[HIGH.alarm_id] = with_state(farm.views[HIGH.alarm_id], status=status)
    context = turn(farm, 0, NIGHT + 1000)
    assert delivery.why_not(context) == ""
    reminder = replace(context.message, kind=MessageKind.REMINDER)
    assert delivery.why_not(replace(context, message=reminder)) == reason


def test_silence_waits_three_minutes_and_only_silence() -> None:
    silent = rule(Priority.MEDIUM, quantity=Computed.SILENT_MINUTES, setpoint=15.0, alarm_id="silent")
    loud = rule(Priority.HIGH, quantity=Computed.SILENT_MINUTES, setpoint=15.0, alarm_id="loud")
    farm = told(Farm(circle(person("anna"))), silent, loud, MEDIUM)
    assert [one.not_before_ms for one in farm.outbox.all()] == [NIGHT + 180_000, NIGHT + 180_000, 0]


def test_silence_in_quiet_hours_waits_for_the_later_of_the_two() -> None:
    silent = rule(Priority.MEDIUM, quantity=Computed.SILENT_MINUTES, setpoint=15.0, alarm_id="silent")
    farm = told(Farm(circle(person("anna", quiet=("02:00", "02:12")))), silent)
    assert farm.outbox.all()[0].not_before_ms == NIGHT + 3 * MINUTE
    farm = told(Farm(circle(person("anna", quiet=("02:00", "02:14")))), silent)
    assert farm.outbox.all()[0].not_before_ms == NIGHT + 4 * MINUTE


def test_quiet_hours_of_nearly_a_day_end_on_a_day_of_25_hours_too() -> None:
    hours = QuietHours.model_validate({"start": "03:00", "end": "02:59"})
    end = quiet_until_ms(hours, at("2026-10-25 03:00", BERLIN), BERLIN)
    assert end == at("2026-10-26 02:59", BERLIN)
    longest = QuietHours.model_validate({"start": "02:00", "end": "01:59"})
    begun = at("2026-10-25 02:00", BERLIN, 0)
    assert quiet_until_ms(longest, begun, BERLIN) == at("2026-10-26 01:59", BERLIN) == begun + 1499 * MINUTE


def test_a_reminder_comes_when_the_set_time_is_over_and_not_before() -> None:
    farm = told(Farm(circle(person("anna"))), HIGH)
    farm.outbox.mark_sent(-1, NIGHT + 1000)
    farm.tick(NIGHT + 1000 + HOUR - 1)
    assert len(farm.outbox.all()) == 1
    farm.tick(NIGHT + 1000 + HOUR)
    assert [one.kind for one in farm.outbox.all()] == [MessageKind.ALARM, MessageKind.REMINDER]


def test_an_escalation_counts_only_those_told_before_it() -> None:
    farm = told(Farm(circle(person("anna"), person("ben", 2), person("cleo", 3))), HIGH)
    farm.outbox.mark_sent(-1, NIGHT + 1000)
    farm.tick(NIGHT + 15 * MINUTE)
    farm.tick(NIGHT + 30 * MINUTE)
    second, third = farm.outbox.all()[1:]
    assert "anna" in second.body and "ben" not in second.body
    assert "anna" in third.body and "ben" in third.body
    late = turn(farm, 1, NIGHT + HOUR)
    assert "ben" not in delivery.final_text(late).body


def numbered(number: int, priority: Priority = Priority.MEDIUM) -> OutboxMessage:
    return OutboxMessage("anna", MessageKind.ALARM, f"t{number}", "b", NIGHT, priority, message_id=number)


def test_a_blocked_queue_opens_on_time_and_tries_what_is_new_and_high_before() -> None:
    queue = RecipientQueue(person("anna"), blocked_until_ms=NIGHT)
    waiting = [numbered(1), numbered(2, Priority.HIGH), replace(numbered(3, Priority.HIGH), attempts=1)]
    assert queue.due(waiting, NIGHT - 1) == [waiting[1]]
    assert queue.due(waiting, NIGHT) == waiting
    queue.tried.add(2)
    assert queue.due(waiting, NIGHT - 1) == []
    assert queue.due([replace(numbered(1), message_id=None)], NIGHT) == []


def test_a_message_refused_while_others_went_through_waits_for_its_own_time() -> None:
    queue = RecipientQueue(person("anna"))
    again_ms = queue.note_refusal(1, 1, NIGHT, Random(1))
    queue.note_success(2)
    assert queue.due([numbered(1), numbered(3)], again_ms - 1) == [numbered(3)]
    assert queue.due([numbered(1)], again_ms) == [numbered(1)]
    later_ms = queue.note_refusal(1, 3, again_ms, Random(1))
    assert later_ms - again_ms > 2 * (again_ms - NIGHT)
    assert queue.due([numbered(1)], later_ms - 1) == []
    assert not queue.failed


def test_rounds_lost_count_once_for_each_round_and_end_with_a_success() -> None:
    queue, rng = RecipientQueue(person("anna")), Random(1)
    queue.end_round(NIGHT, rng)
    assert (queue.rounds_lost, queue.blocked_until_ms) == (0, 0)
    queue.note_refusal(1, 1, NIGHT, rng)
    assert queue.rounds_lost == 0
    queue.note_refusal(2, 1, NIGHT, rng)
    assert queue.rounds_lost == 1
    assert 8000 <= queue.blocked_until_ms - NIGHT <= 12_000
    queue.note_refusal(3, 1, NIGHT + 1, rng)
    queue.note_refusal(4, 1, NIGHT + 1, rng)
    assert queue.rounds_lost == 1
    again_ms = queue.blocked_until_ms
    queue.note_refusal(1, 2, again_ms, rng)
    queue.note_refusal(2, 2, again_ms, rng)
    assert queue.rounds_lost == 2
    assert 16_000 <= queue.blocked_until_ms - again_ms <= 24_000
    assert queue.note_success(1)
    assert (queue.rounds_lost, queue.blocked_until_ms, queue.failed) == (0, 0, {})
    assert not queue.note_success(2)


def worker_of(farm: Farm, channel: RecordingChannel) -> OutboxWorker:
    return OutboxWorker(
        farm.outbox, {"anna": channel}, farm.policy, farm.look, lambda: NIGHT, launch=lambda job: job()
    )


def test_the_hourly_cap_looks_back_one_hour() -> None:
    farm, anna = Farm(circle(person("anna", most_per_hour=1))), RecordingChannel()
    worker = worker_of(farm, anna)
    farm.raise_alarm(MEDIUM, NIGHT)
    worker.step(NIGHT)
    farm.raise_alarm(rule(Priority.MEDIUM, alarm_id="next"), NIGHT + MINUTE)
    worker.step(NIGHT + HOUR)
    assert len(anna.got) == 1
    worker.step(NIGHT + HOUR + 1)
    assert len(anna.got) == 2


def test_a_summary_goes_out_in_the_step_that_folds_it() -> None:
    farm, anna = Farm(circle(person("anna", most_per_hour=1))), RecordingChannel()
    for number in range(3):
        farm.raise_alarm(rule(Priority.MEDIUM, alarm_id=f"bin-{number}"), NIGHT)
    worker_of(farm, anna).step(NIGHT)
    assert [title.split(".")[0] for title in anna.titles] == ["3 messages in one"]


def test_a_message_that_is_not_wanted_any_more_holds_up_no_other() -> None:
    farm, anna = Farm(circle(person("anna"))), RecordingChannel()
    farm.raise_alarm(rule(alarm_id="hidden"), NIGHT)
    farm.raise_alarm(HIGH, NIGHT)
    farm.views["hidden"] = with_state(farm.views["hidden"], status=AlarmStatus.SHELVED)
    worker_of(farm, anna).step(NIGHT)
    assert len(anna.got) == 1


def test_unsent_minutes_count_from_the_end_of_a_hold_and_none_before_it() -> None:
    farm = told(Farm(circle(person("anna", quiet=("21:30", "06:00")))), MEDIUM)
    worker = worker_of(farm, RecordingChannel(up=False))
    morning = at("2026-11-25 06:00")
    assert worker.oldest_unsent_minutes(morning - 1) == 0.0
    assert worker.oldest_unsent_minutes(morning) == 0.0
    assert worker.oldest_unsent_minutes(morning + 7 * MINUTE) == 7.0


def test_new_people_are_known_at_once_though_they_are_followed_in_the_next_step() -> None:
    worker = worker_of(Farm(circle(person("anna"))), RecordingChannel())
    both = circle(person("anna"), person("ben"))
    worker.change(both)
    assert worker.policy is both
    worker.step(NIGHT)
    assert worker.policy is both


class Pulse:
    """In place of the worker's event: notes how long it would have waited."""

    def __init__(self, after: Callable[[], None] = lambda: None) -> None:
        self.waits, self.after = list[float](), after

    def wait(self, seconds: float) -> None:
        self.waits.append(seconds)
        self.after()

    def clear(self) -> None: ...

    def set(self) -> None: ...


def test_the_outbox_is_looked_at_each_second(monkeypatch: pytest.MonkeyPatch) -> None:
    worker = worker_of(Farm(circle(person("anna"))), RecordingChannel())
    pulse = Pulse(worker._stopping.set)
    monkeypatch.setattr(worker, "_wake", pulse)
    worker._run()
    assert pulse.waits == [1.0]


def test_what_is_being_handed_over_at_the_end_gets_three_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    worker, clock = worker_of(Farm(circle(person("anna"))), RecordingChannel()), [100.0]
    pulse = Pulse(lambda: clock.append(clock[-1] + 0.5))
    monkeypatch.setattr(worker, "_wake", pulse)
    monkeypatch.setattr(outbox_worker, "time", SimpleNamespace(monotonic=lambda: clock[-1]))
    worker._queues["anna"].busy = True
    worker._finish_up()
    assert clock[-1] == 103.0
    assert set(pulse.waits) == {0.1}


def test_stopping_gives_the_thread_five_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    worker, given = worker_of(Farm(circle(person("anna"))), RecordingChannel()), list[float]()
    monkeypatch.setattr(worker, "_thread", SimpleNamespace(join=given.append))
    worker.stop()
    assert given == [5.0]


def test_a_message_without_a_mark_is_not_handed_over_by_the_next_step_either() -> None:
    """A mark that the database refused is asked for again, and the message is not sent again meanwhile."""

    class Stubborn(MemoryOutbox):
        refusals = 2

        def mark_sent(self, message_id: int, now_ms: int) -> None:
            if self.refusals:
                self.refusals -= 1
                raise StoreFull("the disk has no room")
            super().mark_sent(message_id, now_ms)

    farm, anna = Farm(circle(person("anna"))), RecordingChannel()
    farm.outbox = Stubborn()
    told(farm, HIGH)
    worker = worker_of(farm, anna)
    worker.step(NIGHT)
    worker.step(NIGHT + 1000)
    worker.step(NIGHT + 2000)
    assert len(anna.got) == 1
    assert farm.outbox.waiting() == []


KEY = b"k" * 32


def token_of(length: int) -> str:
    """A token of that length; names of any length are tried, and their letters do not shorten."""
    letters = "".join(
        Random(3).choices("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_", k=700)
    )
    for size in range(700):
        claim = Claim(letters[:size], "anna", NIGHT, NIGHT + 24 * HOUR, "nonce")
        if len(token := sign(claim, KEY)) == length:
            return token
    raise AssertionError(f"no token has {length} letters")


def test_a_token_has_600_letters_at_most() -> None:
    assert verify(token_of(600), KEY, NIGHT).recipient == "anna"
    with pytest.raises(UsageError, match="not valid"):
        verify(token_of(602), KEY, NIGHT)


def test_a_secret_has_four_letters_or_more() -> None:
    assert set(secrets_of("json://abc:wxyz@h/")) == {"wxyz"}
    assert set(secrets_of("json://h/?key=a%2Fb1&x=12")) == {"a%2Fb1", "a/b1"}
    assert scrubbed("wxyz and wxyz-long", ["wxyz", "wxyz-long"]) == "*** and ***"


def test_the_name_of_a_message_file_holds_forty_letters_of_its_title(tmp_path: Path) -> None:
    FolderChannel(tmp_path, lambda: NIGHT + 999).send("x" * 41, "body")
    FolderChannel(tmp_path, lambda: NIGHT + 1000).send("...", "body")
    assert sorted(one.name for one in tmp_path.iterdir()) == [
        f"20261125T001000Z-0001-{'x' * 40}.txt",
        "20261125T001001Z-0001-message.txt",
    ]


def apprise_channel() -> AppriseChannel:
    channel = open_channel("json://127.0.0.1:9/x")
    assert isinstance(channel, AppriseChannel)
    return channel


class Refusing:
    """A sender that takes nothing and says why, at that length."""

    def __init__(self, letters: int) -> None:
        self.letters, self.timeout = letters, 0.0
        self.status = SimpleNamespace(name="FAILURE")

    def notify(self, timeout: float, **_: object) -> Refusing:
        self.timeout = timeout
        return self

    def __bool__(self) -> bool:
        return False

    def logs(self) -> list[SimpleNamespace]:
        known = SimpleNamespace(level="INFO", message="fine")
        said = SimpleNamespace(level="WARNING", message="x" * self.letters)
        return [known, said] if self.letters else [known]


@pytest.mark.parametrize(("letters", "kept"), [(299, 299), (300, 300), (301, 300)])
def test_a_refusal_is_kept_up_to_300_letters(
    letters: int, kept: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    channel, sender = apprise_channel(), Refusing(letters)
    monkeypatch.setattr(channel, "_sender", sender)
    with pytest.raises(ChannelError) as caught:
        channel.send("t", "b")
    assert str(caught.value) == f"JSON: {'x' * kept}"
    assert sender.timeout == 20.0


def test_a_refusal_without_a_reason_gives_the_status(monkeypatch: pytest.MonkeyPatch) -> None:
    channel = apprise_channel()
    monkeypatch.setattr(channel, "_sender", Refusing(0))
    with pytest.raises(ChannelError, match=r"JSON: the message was not taken \(failure\)"):
        channel.send("t", "b")


MAIL = "mailto://127.0.0.1:9/?from=a@farm.invalid&to=b@farm.invalid"


@pytest.mark.parametrize(
    ("address", "rate_s", "mode"),
    [
        (MAIL, 1.0, "split"),
        (f"{MAIL}&overflow=truncate", 1.0, "truncate"),
        ("json://127.0.0.1:9/x", 0.0, "split"),
    ],
)
def test_a_service_waits_a_second_at_most_between_sends_and_splits_unless_told_otherwise(
    address: str, rate_s: float, mode: str
) -> None:
    channel = open_channel(address)
    assert isinstance(channel, AppriseChannel)
    [plugin] = list(channel._sender)
    assert (plugin.request_rate_per_sec, plugin.overflow_mode) == (rate_s, mode)


def yard(folder: Path) -> Settings:
    people = [
        {"id": "keeper", "address": f"folder://{folder / 'keeper'}", "order": 2},
        {"id": "second", "address": f"folder://{folder / 'second'}", "order": 3},
    ]
    site = {"id": "yard", "title": "Yard", "time_zone": "Africa/Gaborone"}
    return Settings.model_validate(
        {"site": site, "store": {"path": str(folder / "yard.sqlite")}, "recipients": people}
    )


@pytest.mark.parametrize(("age_s", "mails"), [(6 * 3600 - 60, 1), (6 * 3600 + 1, 2), (-60, 2)])
def test_people_are_told_again_that_it_cannot_start_after_six_hours(
    age_s: float, mails: int, tmp_path: Path
) -> None:
    """A stamp from ahead of the clock counts as none: silence for years would be worse."""
    settings = yard(tmp_path)
    tell_people(settings, StoreFull("full"))
    [stamp] = tmp_path.glob("*.not-started")
    os.utime(stamp, (time.time() - age_s,) * 2)
    tell_people(settings, StoreFull("full"))
    assert len(list((tmp_path / "keeper").glob("*.txt"))) == mails
    assert not (tmp_path / "second").exists()


def test_a_heartbeat_reads_a_kilobyte_of_the_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[float] = []

    class Answer:
        def __enter__(self) -> Answer:
            return self

        def __exit__(self, *_: object) -> None: ...

        def read(self, size: int) -> bytes:
            asked.append(size)
            return b""

    def urlopen(_: str, timeout: float) -> Answer:
        asked.append(timeout)
        return Answer()

    monkeypatch.setattr(urllib.request, "urlopen", urlopen)
    fetch("https://h.invalid/x", 7.0)
    assert asked == [7.0, 1024]


def test_only_the_common_cause_hides_silence() -> None:
    silent = rule(Priority.MEDIUM, quantity=Computed.SILENT_MINUTES, setpoint=15.0, alarm_id="silent")
    farm = told(Farm(circle(person("anna"))), silent, MEDIUM)
    for alarm_id in ("silent", "medium"):
        farm.views[alarm_id] = replace(farm.views[alarm_id], common_cause=True)
    assert delivery.why_not(turn(farm, 0, NIGHT + HOUR)) == COMMON_CAUSE
    assert delivery.why_not(turn(farm, 1, NIGHT + HOUR)) == ""


def test_an_alarm_said_to_be_over_before_its_return_was_written_does_not_hold_the_return_back() -> None:
    farm = told(Farm(circle(person("anna"))), HIGH)
    farm.clear(HIGH, NIGHT + HOUR)
    for sent_ms, reason in ((NIGHT + HOUR, ""), (NIGHT + HOUR + 1, delivery.ALREADY_SAID)):
        context = turn(farm, 1, NIGHT + HOUR + MINUTE)
        rows = [replace(context.rows[0], sent_ms=sent_ms), context.rows[1]]
        assert delivery.why_not(replace(context, rows=rows)) == reason


def test_an_unfinished_view_keeps_the_words_of_the_return() -> None:
    farm = told(Farm(circle(person("anna"))), HIGH)
    farm.clear(HIGH, NIGHT + HOUR)
    farm.views[HIGH.alarm_id] = replace(view(NIGHT, AlarmStatus.NORMAL), returned_ms=None)
    context = turn(farm, 1, NIGHT + 3 * MS_PER_HOUR)
    assert delivery.final_text(context).body == context.message.body


@pytest.mark.parametrize(
    ("read", "good", "bad"),
    [
        (ways.phone, ("+12345678", "+123456789012345"), ("+1234567", "+1234567890123456", "71234567")),
        (ways.chat, ("12345", "-12345", "123456789012345"), ("1234", "1234567890123456")),
        (ways.topic, ("a", "a" * 64), ("", "a" * 65)),
        (
            ways.telegram_token,
            (f"123456:{'a' * 30}", f"123456789012:{'a' * 30}"),
            (f"12345:{'a' * 30}", f"1234567890123:{'a' * 30}", f"123456:{'a' * 29}"),
        ),
        (ways.server, ("h", "h:1", "h:12345"), ("h:", "h:123456", "-h")),
    ],
)
def test_what_a_way_asks_for_has_its_length(
    read: Callable[[str], str], good: tuple[str, ...], bad: tuple[str, ...]
) -> None:
    assert [read(text) for text in good] == list(good)
    for text in bad:
        with pytest.raises(UsageError):
            read(text)


def test_a_number_with_two_noughts_in_front_is_one_of_another_country() -> None:
    assert ways.phone("00267 71 234 567") == "+26771234567"
    assert ways.phone("+267 (71) 234-567") == "+26771234567"
    assert ways.mail_server("mail.example") == "mail.example:587"
    assert ways.mail_server("mail.example:465") == "mail.example:465"
