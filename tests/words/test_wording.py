"""What a person reads on the lock screen."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, tzinfo

import pytest
from notify_builders import BERLIN, GABORONE, HOUR, MINUTE, at, rule, view, with_state

from monitor.records import QUANTITIES, AlarmStatus, Computed, Quantity, SensorKey, Side
from monitor.words import alarm_messages
from monitor.words.alarms import condition, outlook
from monitor.words.localizer import Localizer

NIGHT = at("2026-11-25 02:10")


def words(now_ms: int = NIGHT, zone: tzinfo = GABORONE, language: str = "en") -> Localizer:
    return Localizer.plain(language, zone, now_ms)


def test_the_essentials_stand_in_the_first_hundred_characters() -> None:
    text = alarm_messages.alarm(view(NIGHT), words(NIGHT + 4 * MINUTE))
    shown = f"{text.title}\n{text.body}"[:100]
    assert shown.startswith("HIGH Bin 3 substrate 42.6 °C, limit 42 °C, too high\nSince 02:10 (4 min).")


def test_a_body_says_heading_worst_advice_caution_and_consequence_in_this_order() -> None:
    seen = with_state(view(NIGHT, change_per_hour=1.2), extreme_value=43.0)
    lines = alarm_messages.alarm(
        seen, words(NIGHT + 4 * MINUTE), link="https://farm.invalid/a/1"
    ).body.splitlines()
    assert lines == [
        "Since 02:10 (4 min). Rising 1.2 °C an hour, about 43.8 °C in one hour if nothing changes. "
        "Highest so far 43.0 °C.",
        "Do: Spread the substrate thinner and turn it over.",
        "Caution: A hot bin burns skin; wear gloves.",
        "If nothing is done: Larvae leave the bin or die within the hour.",
        "I have seen it: https://farm.invalid/a/1",
    ]


def test_a_low_side_alarm_cannot_be_read_as_high_value() -> None:
    low = rule(quantity=Quantity.AIR_HUMIDITY, side=Side.LOW, setpoint=50.0)
    assert alarm_messages.headline(view(NIGHT, value=48.2, of=low), words()) == (
        "HIGH Bin 3 air humidity 48 %, limit 50 %, too low"
    )


@pytest.mark.parametrize(
    ("quantity", "value", "against", "shown"),
    [
        (Quantity.SUBSTRATE_TEMPERATURE, 42.6049, None, "42.6 °C"),
        (Quantity.SUBSTRATE_TEMPERATURE, 42.04, 42.0, "42.04 °C"),
        (Quantity.AIR_HUMIDITY, 59.6, 60.0, "59.6 %"),
        (Quantity.AIR_HUMIDITY, 59.6, None, "60 %"),
        (Quantity.SUBSTRATE_MOISTURE, 0.623, 0.7, "62 %"),
        (Quantity.BATTERY, 3.317, None, "3.32 V"),
        (Quantity.AIR_TEMPERATURE, -0.02, None, "0.0 °C"),
        (Computed.SILENT_NODE_SHARE, 0.8, 0.5, "80 %"),
        (Computed.VAPOUR_PRESSURE_DEFICIT, 1234.56, None, "1235 Pa"),
        (Quantity.AIR_TEMPERATURE, float("nan"), None, "no value"),
        (Quantity.AIR_TEMPERATURE, None, 42.0, "no value"),
        ("unheard_of", 1.25, None, "1.2"),
    ],
)
def test_numbers_are_rounded_for_people_but_never_onto_the_limit(
    quantity: str, value: float | None, against: float | None, shown: str
) -> None:
    assert words().value(quantity, value, against) == shown


@pytest.mark.parametrize("quantity", sorted(QUANTITIES))
def test_every_quantity_makes_a_short_headline_with_its_unit(quantity: str) -> None:
    used = rule(quantity=quantity, setpoint=0.25)
    title = alarm_messages.headline(view(NIGHT, value=5.0, of=used), words())
    assert title.startswith("HIGH Bin 3 ")
    assert len(title) <= 100
    assert "!" not in title
    if quantity not in (Computed.STORE_FAULT, Computed.BROKER_WAY_FAULT):
        assert words().unit(quantity) in title


def test_a_long_place_title_does_not_push_the_value_out_of_sight() -> None:
    seen = replace(view(NIGHT), place_title="The second bin from the door of the northern room\nnear the tap")
    assert "42.6 °C, limit 42 °C" in alarm_messages.headline(seen, words())[:100]
    assert "\n" not in alarm_messages.headline(seen, words())


def test_suspect_and_stale_readings_say_so() -> None:
    suspect = alarm_messages.alarm(view(NIGHT, suspect=True), words())
    assert suspect.title.endswith("(suspect reading)")
    assert "check the sensor" in suspect.body
    stale_view = with_state(view(NIGHT, change_per_hour=3.0), stale=True, last_true_ms=NIGHT + 5 * MINUTE)
    stale = alarm_messages.alarm(stale_view, words(NIGHT + HOUR))
    assert stale.title.endswith("(no fresh readings)")
    assert "last known to be true at 02:15" in stale.body
    assert "Rising" not in stale.body


def test_the_text_of_a_return_gives_the_span_and_the_worst() -> None:
    seen = with_state(view(NIGHT), last_value=40.9, extreme_value=43.1)
    text = alarm_messages.returned(seen, NIGHT + 3 * HOUR, words(NIGHT + 3 * HOUR))
    assert text.title == "BACK TO NORMAL Bin 3 substrate 40.9 °C, limit 42 °C"
    assert text.body == "Out of range from 02:10 to 05:10 (3 h). Highest 43.1 °C."


@pytest.mark.parametrize("quantity", sorted(Computed))
def test_the_return_of_a_computed_alarm_reads_as_good_news(quantity: str) -> None:
    title = alarm_messages.returned(view(NIGHT, value=0.1, of=rule(quantity=quantity)), NIGHT, words()).title
    assert title.startswith("BACK TO NORMAL Bin 3 ")
    assert "too high" not in title


def test_a_late_message_says_so() -> None:
    late = alarm_messages.returned(view(NIGHT), NIGHT + HOUR, words(NIGHT + 6 * HOUR), late_since_ms=NIGHT)
    assert "This message is late: it has waited since 02:10." in late.body


def test_escalation_says_who_was_told_and_who_could_not_be_reached() -> None:
    told = (
        alarm_messages.Notified("anna", NIGHT),
        alarm_messages.Notified("ben", NIGHT + MINUTE, reached=False),
    )
    text = alarm_messages.escalation(view(NIGHT), told, words(NIGHT + 20 * MINUTE))
    assert text.title.startswith("HIGH Bin 3")
    assert text.body.startswith(
        "anna was told at 02:10 and has not answered. ben could not be reached since 02:11."
    )


def test_a_reminder_begins_with_still() -> None:
    text = alarm_messages.reminder(view(NIGHT), words(NIGHT + HOUR))
    assert text.title.startswith("STILL HIGH Bin 3 substrate 42.6 °C")
    assert "nobody has acknowledged" in text.body


def test_a_summary_lists_twelve_and_counts_the_rest() -> None:
    text = alarm_messages.folded([f"MEDIUM Bin {number}" for number in range(20)], 6, words())
    assert text.title == "20 messages in one. First: MEDIUM Bin 0"
    assert text.body.count("\n- ") == 13
    assert "- and 8 more" in text.body


def test_night_report_and_test_message() -> None:
    report = alarm_messages.night_report("Saltbush Yard", date(2026, 11, 25), "All well.", words())
    assert report == alarm_messages.Text("Night report Saltbush Yard, Wed 25 Nov", "All well.")
    trial = alarm_messages.trial("Saltbush Yard", "anna", words())
    assert trial.title == "TEST from Saltbush Yard: messages reach you"
    assert "Sent at 02:10 for anna. Nothing is wrong." in trial.body


def test_acknowledged_note_names_the_person() -> None:
    seen = view(NIGHT, AlarmStatus.ACKNOWLEDGED, acknowledged_ms=NIGHT + 9 * MINUTE, acknowledged_by="anna")
    assert alarm_messages.acknowledged_note(seen, words(NIGHT + HOUR)) == "Acknowledged by anna at 02:19."
    assert alarm_messages.acknowledged_note(view(NIGHT), words()) == ""


def test_times_of_other_days_carry_the_day() -> None:
    now = at("2026-11-25 09:00")
    assert words(now).clock(at("2026-11-25 02:10")) == "02:10"
    assert words(now).clock(at("2026-11-24 23:50")) == "Tue 23:50"
    assert words(now).clock(at("2026-11-02 23:50")) == "2 Nov 23:50"


def test_the_hour_that_comes_twice_names_its_zone() -> None:
    first, second = (at("2026-10-25 02:30", BERLIN, fold) for fold in (0, 1))
    assert words(second, BERLIN).clock(first) == "02:30 CEST"
    assert words(second, BERLIN).clock(second) == "02:30 CET"


@pytest.mark.parametrize(
    ("minutes", "text"),
    [(-5, "less than a minute"), (4, "4 min"), (120, "2 h"), (130, "2 h 10 min"), (4330, "3 days")],
)
def test_lengths_of_time(minutes: int, text: str) -> None:
    assert words().length(minutes * MINUTE) == text


def test_outlook_is_silent_without_a_trend_and_steady_when_flat() -> None:
    assert outlook(Quantity.AIR_TEMPERATURE, 30.0, None, words()) == ""
    assert outlook(Quantity.AIR_TEMPERATURE, 30.0, 0.04, words()) == "Steady."
    falling = outlook(Quantity.AIR_HUMIDITY, 55.0, -6.0, words())
    assert falling == "Falling 6 % an hour, about 49 % in one hour if nothing changes."


def test_an_alarm_about_a_dead_sensor_names_the_sensor_in_each_language() -> None:
    dead = (SensorKey("node-3", "second", "air_temperature"),)
    seen = replace(view(NIGHT, of=rule(quantity=Computed.DEAD_SENSOR_MINUTES)), dead_sensors=dead)
    assert " Bin 3 second air temperature no good reading" in alarm_messages.headline(seen, words())
    french = alarm_messages.headline(seen, words(language="fr"))
    assert " Bin 3 second température de l’a… pas de bonne mesure" in french


# What is back, what is only just back, and what cannot be.


@pytest.mark.parametrize(
    ("value", "title"),
    [
        (42.1, "HIGH Bin 3 substrate 42.1 °C, limit 42 °C, too high"),
        (42.0, "HIGH Bin 3 substrate 42.0 °C, limit 42 °C, only just back"),
        (41.1, "HIGH Bin 3 substrate 41.1 °C, limit 42 °C, only just back"),
        (41.0, "HIGH Bin 3 substrate 41.0 °C, limit 42 °C, back for now"),
    ],
)
def test_too_high_is_said_only_of_what_is_beyond_the_limit(value: float, title: str) -> None:
    assert alarm_messages.headline(view(NIGHT, value=value), words()) == title


def test_a_message_about_a_value_that_is_back_says_since_when_and_when_it_is_over() -> None:
    at_ms = NIGHT + 10 * MINUTE
    seen = with_state(view(NIGHT), last_value=40.2, last_at_ms=at_ms, progress_s=120.0, extreme_value=43.0)
    body = alarm_messages.reminder(seen, words(at_ms + MINUTE)).body
    assert "Since 02:10 (11 min). Back within the limit since 02:18, over at 02:23 if it stays so." in body
    stale = with_state(seen, stale=True, last_true_ms=NIGHT)
    assert "Back within" not in alarm_messages.reminder(stale, words(at_ms + MINUTE)).body


def test_a_computed_state_that_is_back_is_not_said_to_go_on() -> None:
    used = rule(quantity=Computed.MINUTES_TO_OVERHEATING, side=Side.LOW, setpoint=60.0)
    titles = [
        alarm_messages.headline(view(NIGHT, value=value, of=used), words()) for value in (0.4, 32.0, 1440.0)
    ]
    assert titles == [
        "HIGH Bin 3 nears its high limit, still rising",
        "HIGH Bin 3 nears its high limit in about 32 min",
        "HIGH Bin 3 no longer heading for overheating",
    ]
    said = [condition(used, value, words()) for value in (0.4, 32.0, 1440.0)]
    assert said == [
        "Within a degree of its high limit, and still rising",
        "Within a degree of its high limit in about 32 min if it goes on like this",
        "No longer heading for overheating",
    ]


@pytest.mark.parametrize(
    ("quantity", "value", "per_hour", "said"),
    [
        ("air_humidity", 47.0, -58.0, "Falling 58 % an hour."),
        ("air_humidity", 58.0, -58.0, "Falling 58 % an hour, about 0 % in one hour if nothing changes."),
        ("air_humidity", 80.0, 21.0, "Rising 21 % an hour."),
        ("substrate_moisture", 0.9, 0.2, "Rising 20 % an hour."),
        (
            "air_temperature",
            2.0,
            -5.0,
            "Falling 5.0 °C an hour, about -3.0 °C in one hour if nothing changes.",
        ),
    ],
)
def test_a_projection_never_leaves_what_is_possible(
    quantity: str, value: float, per_hour: float, said: str
) -> None:
    assert outlook(quantity, value, per_hour, words()) == said


def test_a_return_tells_of_the_excursion_that_is_over_not_of_a_later_touch() -> None:
    seen = with_state(
        view(NIGHT, AlarmStatus.RETURNED_UNACKNOWLEDGED),
        last_value=40.9,
        since_ms=NIGHT + 4 * HOUR,
        extreme_value=42.1,
        over_since_ms=NIGHT,
        over_ms=NIGHT + 3 * HOUR,
        over_extreme=43.5,
    )
    text = alarm_messages.returned(seen, NIGHT + 3 * HOUR, words(NIGHT + 5 * HOUR))
    assert text.body == "Out of range from 02:10 to 05:10 (3 h). Highest 43.5 °C."


@pytest.mark.parametrize(("age_min", "old"), [(10, False), (10.1, True)])
def test_a_value_that_its_probe_does_not_renew_is_told_as_old(age_min: float, old: bool) -> None:
    """The probe fails while its board goes on sending: the alarm is not stale, but its value is."""
    seen = with_state(view(NIGHT, change_per_hour=3.0, fresh_s=600.0), last_true_ms=NIGHT)
    text = alarm_messages.reminder(seen, words(NIGHT + round(age_min * MINUTE)))
    assert text.title.endswith("(no fresh readings)") is old
    assert ("Rising" in text.body) is not old
    assert ("last known to be true at 02:10" in text.body) is old


def test_a_computed_state_is_never_told_as_old() -> None:
    seen = view(NIGHT, of=rule(quantity=Computed.SILENT_MINUTES), fresh_s=600.0)
    assert "no fresh readings" not in alarm_messages.alarm(seen, words(NIGHT + 9 * HOUR)).title
