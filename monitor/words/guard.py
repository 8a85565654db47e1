"""What is not guarded, in words: why, who said so, until when, and how to undo it."""

from __future__ import annotations

from monitor.farm.records import ActiveAlarm, PlaceNow, Sign
from monitor.logbook.place_entries import Unguarded
from monitor.records import AlarmStatus, Quantity
from monitor.words.alarms import condition
from monitor.words.localizer import Localizer, inside

_PUT_ASIDE = {AlarmStatus.SHELVED: "shelved", AlarmStatus.OUT_OF_SERVICE: "out_of_service"}


def unguarded(place: PlaceNow, words: Localizer, *, undo: bool = True) -> list[str]:
    """Everything that does not guard a place now: why, who said so, until when, and how to undo it.

    Without `undo` no command is named for it: the page has a button.
    """
    texts = unguarded_texts(place.unguarded, words)
    has_button = place.unguarded is not None and bool(place.unguarded.undo)
    return [
        *(texts[:-1] if has_button and not undo else texts),
        *(put_aside(alarm, words, undo=undo) for alarm in place.put_aside if alarm.beyond),
        *(board_aside(board, aside, words, undo=undo) for board, aside in place.boards_aside.items()),
        *(unheard(place, words) if place.current else ()),
    ]


def unheard(place: PlaceNow, words: Localizer) -> list[str]:
    """The boards of a place that were never heard; of one without any reading its state says so already."""
    return [words.t("unguarded.unheard", board=board) for board in place.unheard]


def question(place: PlaceNow, words: Localizer) -> str:
    """That a person should say whether a place is empty; "" where nobody needs to."""
    return words.t("unguarded.asks") if place.asks else ""


def question_lines(place: PlaceNow, words: Localizer) -> list[str]:
    """The same with the two answers, as commands."""
    if not place.asks:
        return []
    answers = [command(f"place {answer} {place.id}") for answer in ("empty", "in-use")]
    return [question(place, words), words.t("unguarded.answers", empty=answers[0], in_use=answers[1])]


def unguarded_texts(why: Unguarded | None, words: Localizer) -> list[str]:
    """Why nothing guards a place, the reason that was given, and how to undo it."""
    if why is None:
        return []
    key = f"unguarded.undo_{why.why}"
    return [
        words.t(f"unguarded.{why.why}", **_who_and_when(why, words)),
        *((words.t("unguarded.note", note=why.note),) if why.note else ()),
        words.t("unguarded.undo", command=command(why.undo)) if why.undo else words.t(key),
    ]


def board_aside(board: str, aside: Unguarded, words: Localizer, *, undo: bool = True) -> str:
    """That nobody listens to a board, until when, who said so, and with `undo` the command that ends it."""
    said = words.t("unguarded.board", board=board, **_who_and_when(aside, words))
    return f"{said} {words.t('unguarded.undo', command=command(aside.undo))}" if undo else said


def command(words_of_command: str) -> str:
    """A command as a person types it."""
    return f"rearing-monitor {words_of_command}"


def _who_and_when(why: Unguarded, words: Localizer) -> dict[str, str]:
    none = words.t("value.none")
    return {
        "who": why.said_by or none,
        "at": none if why.said_ms is None else words.clock(why.said_ms),
        "until": none if why.until_ms is None else words.clock(why.until_ms),
    }


def put_aside(alarm: ActiveAlarm, words: Localizer, *, undo: bool = True) -> str:
    """That an alarm which a person put aside would stand, and with `undo` the command that puts it back."""
    state, rule = alarm.state, alarm.rule
    known = _PUT_ASIDE.get(state.status, "removed")
    said = words.t(
        f"unguarded.{known}",
        quantity=words.quantity_name(rule.quantity),
        value=words.value(rule.quantity, alarm.value),
        limit=words.limit(rule.quantity, rule.setpoint),
        until=words.t("value.none")
        if state.shelved_until_ms is None
        else words.clock(state.shelved_until_ms),
    )
    if known != "out_of_service" or not undo:
        return said
    return f"{said} {words.t('unguarded.undo', command=command(f'put-back {rule.alarm_id}'))}"


def doubts(place: PlaceNow, words: Localizer) -> list[str]:
    """What speaks against it that a place is empty."""
    alarm = "" if not place.standing else condition(place.standing[0].rule, place.standing[0].value, words)
    wet = (each for each in place.quantities if each.quantity == Quantity.SUBSTRATE_MOISTURE)
    moist = [each.highest for each in wet if each.usable]
    values = {
        Sign.ALARM: inside(alarm),
        Sign.WARM: "" if place.excess_k is None else f"{words.number(place.excess_k, 1)}{words.space}K",
        Sign.MOIST: words.value(Quantity.SUBSTRATE_MOISTURE, max(moist)) if moist else "",
    }
    return [words.t(f"doubt.{sign}", place=place.title, value=values.get(sign, "")) for sign in place.signs]
