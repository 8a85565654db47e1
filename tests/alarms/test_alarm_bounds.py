"""Each figure of the alarms that a person would feel, on both of its sides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from alarm_steps import advance

from monitor.alarms.health import Span, annunciated_spans, health, stale_on_worst_day
from monitor.alarms.place_values import PlaceValues, computed
from monitor.alarms.rules import rule_problems, rules_for
from monitor.alarms.state_machine import advance_many, mark_stale, request, suppress
from monitor.alarms.system import Listening, Watched, silence, system_rules
from monitor.alarms.timing import LateFinds, Sample, observe, points_to_change
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    AlarmEvent,
    AlarmRule,
    AlarmState,
    AlarmStatus,
    Flag,
    FlaggedReading,
    PlaceKind,
    Priority,
    Reading,
    SensorKey,
    Side,
    Transition,
)
from monitor.settings.schema import Place, RuleOverride
from monitor.settings.species import load_species

T0 = 1_700_000_000_000
RULE = AlarmRule(
    alarm_id="bin-1/substrate_temperature/high/high",
    place="bin-1",
    quantity="substrate_temperature",
    side=Side.HIGH,
    setpoint=42.0,
    deadband=1.0,
    on_delay_s=120.0,
    off_delay_s=300.0,
    priority=Priority.HIGH,
    consequence="larvae die",
    response="stir the bin",
)
MEDIUM = replace(RULE, priority=Priority.MEDIUM)
AT_ONCE = replace(RULE, on_delay_s=0.0, off_delay_s=0.0)
FRESH = AlarmState(RULE.alarm_id)
GAP_S = 150.0


def at(seconds: float) -> int:
    return T0 + round(seconds * 1000)


def fed(state: AlarmState, rule: AlarmRule, *samples: tuple[float, float]) -> AlarmState:
    for seconds, value in samples:
        state, _ = advance(state, rule, Sample(at(seconds), value), at(seconds), GAP_S)
    return state


# --- timing ---


@pytest.mark.parametrize(("value", "beyond"), [(42.0, False), (42.001, True)])
def test_the_high_setpoint_itself_is_not_beyond(value: float, beyond: bool) -> None:
    assert points_to_change(FRESH, RULE, value) is beyond
    assert fed(FRESH, AT_ONCE, (0, value)).active is beyond


@pytest.mark.parametrize(("value", "beyond"), [(20.0, False), (19.999, True)])
def test_the_low_setpoint_itself_is_not_beyond(value: float, beyond: bool) -> None:
    low = replace(AT_ONCE, side=Side.LOW, setpoint=20.0)
    assert points_to_change(FRESH, low, value) is beyond
    assert fed(FRESH, low, (0, value)).active is beyond


@pytest.mark.parametrize(("value", "inside"), [(41.0, True), (41.001, False)])
def test_back_inside_by_the_deadband_itself(value: float, inside: bool) -> None:
    state = fed(FRESH, AT_ONCE, (0, 43.0))
    assert points_to_change(state, RULE, value) is inside
    assert fed(state, AT_ONCE, (60, value)).active is not inside


@pytest.mark.parametrize(("last_s", "active"), [(119.999, False), (120.0, True)])
def test_the_on_delay_is_over_when_it_is_over(last_s: float, active: bool) -> None:
    assert fed(FRESH, RULE, (0, 43), (60, 43), (last_s, 43)).active is active


@pytest.mark.parametrize(("last_s", "active"), [(399.999, True), (400.0, False)])
def test_the_off_delay_is_over_when_it_is_over(last_s: float, active: bool) -> None:
    state = fed(FRESH, replace(RULE, on_delay_s=0.0), (0, 43))
    samples = [(second, 40.0) for second in (100, 200, 300, last_s)]
    assert fed(state, RULE, *samples).active is active


@pytest.mark.parametrize(("step_s", "active"), [(150.0, True), (150.001, False)])
def test_a_step_as_long_as_the_longest_gap_counts_and_a_longer_one_does_not(
    step_s: float, active: bool
) -> None:
    assert fed(FRESH, RULE, (0, 43), (step_s, 43)).active is active


def test_the_extreme_is_the_worst_value_of_this_excursion() -> None:
    state = fed(FRESH, RULE, (0, 43), (60, 44), (120, 43.5))
    assert (state.extreme_value, state.last_true_ms) == (44, at(120))
    state = fed(state, RULE, (180, 44.0), (240, 45.0), (300, 44.5), (360, 41.5))
    assert (state.extreme_value, state.last_true_ms) == (45.0, at(360))
    low = replace(RULE, side=Side.LOW, setpoint=20.0)
    assert fed(FRESH, low, (0, 19), (60, 17), (120, 18), (180, 16), (240, 19)).extreme_value == 16
    again = fed(FRESH, RULE, (0, 46), (60, 40), (120, 43))
    assert (again.extreme_value, again.since_ms) == (43, at(120))


def test_a_sample_of_the_same_time_is_not_newer() -> None:
    state = observe(FRESH, RULE, Sample(T0, 43.0), GAP_S)
    assert observe(state, RULE, Sample(T0, 20.0), GAP_S) is state
    assert observe(state, RULE, Sample(T0 + 1, 20.0), GAP_S).last_value == 20.0


def test_late_readings_follow_one_another_up_to_the_longest_gap() -> None:
    finds = LateFinds()
    assert finds.take(AT_ONCE, [Sample(T0, 43.0)], GAP_S)[0].began_ms == T0
    [found] = finds.take(AT_ONCE, [Sample(at(150), 44.0)], GAP_S)
    assert (found.began_ms, found.ended_ms, found.extreme_value) == (T0, at(150), 44.0)
    [found] = finds.take(AT_ONCE, [Sample(at(300.001), 43.0)], GAP_S)
    assert found.began_ms == at(300.001)
    [found] = finds.take(AT_ONCE, [Sample(at(300.001), 43.0)], GAP_S)
    assert found.began_ms == at(300.001)
    [found] = finds.take(AT_ONCE, [Sample(at(200), 45.0)], GAP_S)
    assert (found.began_ms, found.extreme_value) == (at(200), 45.0)
    assert finds.take(AT_ONCE, [Sample(at(260), 30.0)], GAP_S) == []


# --- the state machine ---


@pytest.mark.parametrize(("age_s", "announced"), [(600, True), (600.001, False)])
def test_a_reading_of_ten_minutes_ago_still_announces_and_an_older_one_waits(
    age_s: float, announced: bool
) -> None:
    found = advance_many(FRESH, AT_ONCE, [Sample(T0, 43.0)], at(age_s), GAP_S)
    assert bool(found.transitions) is announced
    assert found.state.active


def test_stale_settles_what_late_data_left_open_but_not_beneath_an_overlay() -> None:
    late = advance_many(FRESH, AT_ONCE, [Sample(T0, 43.0)], at(700), GAP_S).state
    assert mark_stale(late, RULE, at(900))[0].status is AlarmStatus.UNACKNOWLEDGED
    shelved, _ = request(late, RULE, AlarmEvent.SHELVE, at(700), "anna", until_ms=at(9000))
    assert mark_stale(shelved, RULE, at(900)) == (replace(shelved, stale=True), ())
    back = fed(FRESH, RULE, (0, 43), (60, 43), (120, 43), (180, 40))
    assert mark_stale(back, RULE, at(900))[1] == ()


@pytest.mark.parametrize(("now_s", "status"), [(599, AlarmStatus.SHELVED), (600, AlarmStatus.NORMAL)])
def test_a_shelf_that_ends_as_suppression_ends_is_over(now_s: float, status: AlarmStatus) -> None:
    shelved, _ = request(FRESH, RULE, AlarmEvent.SHELVE, T0, "anna", until_ms=at(600))
    hidden, _ = suppress(shelved, RULE, True, at(10), "power")
    assert suppress(hidden, RULE, False, at(now_s))[0].status is status


def test_a_low_alarm_alone_is_acknowledged_by_clearing() -> None:
    for priority, rows in ((Priority.LOW, 2), (Priority.MEDIUM, 1), (Priority.HIGH, 1)):
        rule = replace(AT_ONCE, priority=priority)
        state = fed(FRESH, rule, (0, 43))
        assert len(advance_many(state, rule, [Sample(at(60), 40.0)], at(60), GAP_S).transitions) == rows


# --- values of a place ---


def reading(seconds: float, value: float, node: str = "n1", flag: Flag = Flag.PASS) -> FlaggedReading:
    sensor = SensorKey(node, "0", "substrate_temperature")
    return FlaggedReading(Reading(sensor, at(seconds), value), flag, value)


def noted(readings: Sequence[FlaggedReading], fresh_s: float = 150.0) -> PlaceValues:
    values = PlaceValues(fresh_s)
    for item in readings:
        values.note(item, usable=True)
    return values


@pytest.mark.parametrize(("humidity", "known"), [(0.999, False), (1.0, True)])
def test_below_one_percent_the_dew_point_means_nothing(humidity: float, known: bool) -> None:
    assert bool(computed({"air_temperature": 25.0, "air_humidity": humidity})) is known


def test_humidity_counts_up_to_a_hundred_percent() -> None:
    dew = [computed({"air_temperature": 25.0, "air_humidity": h})["dew_point"] for h in (99.0, 100.0, 101.0)]
    assert dew[0] < dew[1] == dew[2]


@pytest.mark.parametrize(("age_s", "highest"), [(150.0, 44.0), (150.001, 41.0)])
def test_a_probe_counts_while_it_is_fresh(age_s: float, highest: float) -> None:
    values = noted([reading(0, 44.0, "n2")])
    combined = values.note(reading(age_s, 41.0), usable=True)
    assert (combined.lowest, combined.highest) == (41.0, highest)


def test_a_reading_of_the_same_time_replaces_and_an_older_one_speaks_for_itself() -> None:
    values = noted([reading(60, 44.0)])
    assert not values.is_overtaken(reading(60, 43.0))
    assert values.note(reading(60, 43.0), usable=True).highest == 43.0
    assert values.is_overtaken(reading(59, 46.0))
    old = values.note(reading(59, 46.0), usable=True)
    assert (old.at_ms, old.highest) == (at(59), 46.0)
    assert values.current(at(60)) == {"substrate_temperature": 43.0}
    assert values.note(reading(61, 50.0), usable=False).highest == 43.0
    assert values.newest_ms("substrate_temperature") == at(60)
    assert values.newest_ms("air_temperature") == 0


def test_the_current_value_is_the_mean_of_the_fresh_probes() -> None:
    values = noted([reading(0, 30.0), reading(10, 36.0, "n2"), reading(20, 39.0, "n3")])
    assert values.current(at(20)) == {"substrate_temperature": 35.0}
    assert values.current(at(155)) == {"substrate_temperature": 37.5}
    assert values.current(at(400)) == {}


def rising(*minutes: float) -> float | None:
    """The trend of readings that rise by 2 °C an hour, at these minutes."""
    readings = [reading(60 * minute, 30.0 + minute / 30) for minute in minutes]
    return noted(readings).change_per_hour("substrate_temperature", Side.HIGH)


@pytest.mark.parametrize(
    ("minutes", "known"),
    [((0, 3, 6, 10), False), ((0, 3, 6, 8, 10), True), ((0, 3, 6, 8, 9.99), False), ((), False)],
    ids=str,
)
def test_a_trend_needs_five_values_over_ten_minutes(minutes: tuple[float, ...], known: bool) -> None:
    slope = rising(*minutes)
    assert (slope is not None) is known
    assert slope is None or slope == pytest.approx(2.0)


def test_a_trend_looks_back_half_an_hour_and_at_one_value_a_minute() -> None:
    ramp = [reading(60 * minute, 30.0 + minute / 30) for minute in range(31)]
    assert noted(ramp).change_per_hour("substrate_temperature", Side.HIGH) == pytest.approx(2.0)
    flat_after = [*ramp, *(reading(60 * minute, 31.0) for minute in range(31, 61))]
    assert noted(flat_after).change_per_hour("substrate_temperature", Side.HIGH) == pytest.approx(0.0)
    # Five values of which the first is just within half an hour, or just outside it.
    for first, known in ((10, True), (9.99, False)):
        assert (rising(first, 25, 30, 35, 40) is not None) is known
    # Of two values of one minute the second is left out: four are too few.
    assert rising(0, 0.5, 4, 8, 12) is None
    assert rising(0, 1, 4, 8, 12) == pytest.approx(2.0)


def test_a_place_forgets_its_trend_with_the_sensor_that_made_it() -> None:
    values = noted([reading(60 * minute, 30.0 + minute / 10) for minute in range(20)])
    values.forget(lambda key, at_ms: key.node == "other" or at_ms > at(10_000))
    assert values.change_per_hour("substrate_temperature", Side.HIGH) == pytest.approx(6.0)
    assert values.quantities_of("n1") == ["substrate_temperature"]
    assert values.quantities_of("n2") == []
    values.forget(lambda key, _: key.node == "n1")
    assert values.change_per_hour("substrate_temperature", Side.HIGH) is None
    assert values.quantities_of("n1") == []


@pytest.mark.parametrize("newest", [Flag.PASS, Flag.SUSPECT])
@pytest.mark.parametrize("late", [Flag.PASS, Flag.SUSPECT])
def test_an_overtaken_reading_is_as_doubtful_as_it_is_itself(newest: Flag, late: Flag) -> None:
    values = noted([reading(60, 30.0, flag=newest)])

    old = values.note(reading(30, 46.0, flag=late), usable=True)

    assert old.suspect is (late is Flag.SUSPECT)
    assert values.is_suspect("substrate_temperature") is (newest is Flag.SUSPECT)


def test_a_suspect_value_is_told_while_it_is_the_newest() -> None:
    values = noted([reading(0, 30.0, flag=Flag.SUSPECT)])
    assert values.is_suspect("substrate_temperature")
    values.note(reading(60, 30.0), usable=True)
    assert not values.is_suspect("substrate_temperature")


# --- silence ---


def nodes(*heard_s: float, interval_s: float = 60.0, limit_s: float = 120.0) -> list[Listening]:
    return [Listening(f"n{i}", at(heard), interval_s, limit_s) for i, heard in enumerate(heard_s)]


def test_three_nodes_can_share_a_cause_and_two_cannot() -> None:
    assert silence(nodes(0, 0, 0), at(330)).common_cause
    assert not silence(nodes(0, 0), at(330)).common_cause


@pytest.mark.parametrize(("now_s", "share"), [(180.0, 0.0), (180.001, 1.0)])
def test_a_node_has_missed_a_report_after_one_and_a_half_intervals(now_s: float, share: float) -> None:
    slow = nodes(0, 0, interval_s=120.0, limit_s=600.0)
    assert silence([*slow, Listening("quick", T0, 60.0, 120.0)], at(now_s)).share == share


@pytest.mark.parametrize(("after_s", "covered"), [(299.999, True), (300.0, False)])
def test_nodes_stay_covered_for_five_minutes_after_a_common_cause(after_s: float, covered: bool) -> None:
    cut = silence(nodes(0, 1, 2, 3), at(600))
    back = silence(nodes(0, 800, 800, 800), at(600 + after_s), cut)
    assert (back.stale, bool(back.covered)) == ({"n0"}, covered)


def limits(rule: AlarmRule) -> tuple[float, float, float, float]:
    return rule.setpoint, rule.deadband, rule.on_delay_s, rule.off_delay_s


def test_the_limits_of_the_monitors_own_alarms() -> None:
    rules = system_rules(
        [Watched("n1", 120.0, 3.3), Watched("n2", 480.0)], 6.0, copies_wanted=True, several_places=True
    )
    found = {f"{rule.place} {rule.quantity}": (*limits(rule), rule.priority.value) for rule in rules}
    expected = {
        "site silent_node_share": (0.5, 0.2, 0.0, 120.0, "high"),
        "site unheard_nodes": (0.5, 0.0, 180.0, 0.0, "medium"),
        "site store_fault": (0.5, 0.0, 0.0, 300.0, "high"),
        "site broker_way_fault": (0.5, 0.0, 0.0, 0.0, "high"),
        "site unsent_message_minutes": (30.0, 10.0, 0.0, 60.0, "medium"),
        "site copy_age_hours": (48.0, 24.0, 3600.0, 0.0, "medium"),
        "site copy_behind_hours": (48.0, 24.0, 3600.0, 0.0, "low"),
        "site archive_lag_hours": (6.0, 3.0, 600.0, 600.0, "low"),
        "n1 silent_minutes": (2.0, 0.5, 180.0, 300.0, "medium"),
        "n1 dead_sensor_minutes": (2.0, 0.5, 180.0, 300.0, "medium"),
        "n1 battery": (3.3, 0.05, 600.0, 3600.0, "medium"),
        "n2 silent_minutes": (8.0, 2.0, 180.0, 300.0, "medium"),
        "n2 dead_sensor_minutes": (8.0, 2.0, 180.0, 300.0, "medium"),
    }
    assert found == expected
    assert [rule.side for rule in rules if rule.quantity == "battery"] == [Side.LOW]


# --- rules ---

BIN = Place(id="bin-1", kind=PlaceKind.GROW_OUT_BIN, title="Bin 1")
DEFAULTS = load_species("black_soldier_fly").alarms


@pytest.mark.parametrize(
    ("quantity", "deadband"),
    [
        ("air_temperature", 1.0),
        ("surface_temperature", 1.0),
        ("substrate_temperature", 1.0),
        ("air_humidity", 3.0),
        ("substrate_moisture", 0.03),
        ("carbon_dioxide", 0.0),
    ],
)
def test_a_new_rule_waits_ten_minutes_and_has_the_deadband_of_its_quantity(
    quantity: str, deadband: float
) -> None:
    given = {"quantity": quantity, "side": "high", "priority": "low", "setpoint": 1.0, "response": "Go."}
    new = RuleOverride.model_validate({**given, "place": "bin-1"})
    [rule] = rules_for((BIN,), (), (new,))
    assert limits(rule) == (1.0, deadband, 600.0, 600.0)
    for left_out in ("setpoint", "response"):
        part = {key: value for key, value in given.items() if key != left_out}
        assert rules_for((BIN,), (), (RuleOverride.model_validate({**part, "place": "bin-1"}),)) == ()


def test_delays_are_given_in_minutes_and_kept_in_seconds() -> None:
    change = RuleOverride.model_validate(
        {
            "quantity": "substrate_temperature",
            "side": "high",
            "priority": "high",
            "place": "bin-1",
            "on_delay_minutes": 2.5,
            "off_delay_minutes": 7,
            "deadband": 0.5,
        }
    )
    name = "bin-1/substrate_temperature/high/high"
    [before] = [rule for rule in rules_for((BIN,), DEFAULTS, ()) if rule.alarm_id == name]
    [rule] = [rule for rule in rules_for((BIN,), DEFAULTS, (change,)) if rule.alarm_id == name]
    assert limits(rule) == (before.setpoint, 0.5, 150.0, 420.0)
    [default] = [d for d in DEFAULTS if before.setpoint == d.setpoint and d.quantity == before.quantity]
    assert limits(before) == (
        default.setpoint,
        default.deadband,
        default.on_delay_minutes * 60,
        default.off_delay_minutes * 60,
    )


def pair(mild: float, grave: float, side: Side) -> tuple[AlarmRule, AlarmRule]:
    return (
        replace(RULE, setpoint=mild, side=side, priority=Priority.MEDIUM, alarm_id="mild"),
        replace(RULE, setpoint=grave, side=side, alarm_id="grave"),
    )


@pytest.mark.parametrize(
    ("rules", "problems"),
    [
        (pair(42.0, 42.0, Side.HIGH), 0),
        (pair(42.1, 42.0, Side.HIGH), 1),
        (pair(20.0, 20.0, Side.LOW), 0),
        (pair(19.9, 20.0, Side.LOW), 1),
        ((replace(RULE, side=Side.LOW, setpoint=41.9), RULE), 0),
        ((replace(RULE, side=Side.LOW, setpoint=42.0), RULE), 1),
        ((replace(RULE, side=Side.LOW, setpoint=42.0),), 0),
    ],
    ids=range(7),
)
def test_two_limits_may_be_equal_on_one_side_and_not_across(
    rules: tuple[AlarmRule, ...], problems: int
) -> None:
    assert len(rule_problems(rules)) == problems


# --- health ---


def row(minute: float, after: AlarmStatus, before: AlarmStatus = AlarmStatus.NORMAL) -> Transition:
    event = AlarmEvent.ACTIVATE if after is AlarmStatus.UNACKNOWLEDGED else AlarmEvent.CLEAR
    moment = T0 + round(minute * MS_PER_MINUTE)
    return Transition("a", "p", "q", Priority.MEDIUM, event, before, after, moment, moment)


@pytest.mark.parametrize(("extra_ms", "stale"), [(0, 0), (1, 1)])
def test_an_alarm_is_stale_after_more_than_a_day(extra_ms: int, stale: int) -> None:
    noon = T0 + MS_PER_DAY // 2
    span = Span("a", noon, noon + MS_PER_DAY + extra_ms)
    assert stale_on_worst_day([span], T0, MS_PER_DAY) == stale


def test_a_stale_alarm_counts_up_to_the_day_on_which_it_ends() -> None:
    first = Span("a", T0, T0 + 2 * MS_PER_DAY)
    second = Span("b", T0 + MS_PER_DAY, T0 + 3 * MS_PER_DAY)
    assert stale_on_worst_day([first, second], T0, MS_PER_DAY) == 1
    longer = replace(first, end_ms=first.end_ms + 1)
    assert stale_on_worst_day([longer, second], T0, MS_PER_DAY) == 2
    assert stale_on_worst_day([], T0, MS_PER_DAY) == 0


def test_a_span_runs_from_the_first_row_to_the_first_that_ends_it() -> None:
    up, seen, over = AlarmStatus.UNACKNOWLEDGED, AlarmStatus.ACKNOWLEDGED, AlarmStatus.NORMAL
    rows = [row(1, up), row(3, seen, up), row(5, over, seen), row(7, over, over), row(8, up)]
    end_ms = T0 + 10 * MS_PER_MINUTE
    lengths = [span.length_ms // MS_PER_MINUTE for span in annunciated_spans(rows, T0, end_ms)]
    assert lengths == [4, 2]
    [span] = annunciated_spans([row(3, over, seen)], T0, end_ms)
    assert (span.begin_ms, span.length_ms) == (T0, 3 * MS_PER_MINUTE)


def test_rates_of_a_busy_half_day() -> None:
    rows = [row(10 * number, AlarmStatus.UNACKNOWLEDGED) for number in range(36)]
    found = health(rows, T0, T0 + 12 * MS_PER_HOUR)
    assert (found.per_day, found.per_hour, found.per_10_min) == (72.0, 3.0, 0.5)
    assert (found.peak_10_min, found.flood_minutes) == (1, 0.0)


@pytest.mark.parametrize(("last_minute", "chatters"), [(12.0, True), (12.001, False)])
def test_an_alarm_without_an_interval_of_its_own_is_taken_to_report_each_minute(
    last_minute: float, chatters: bool
) -> None:
    rows = [row(minute, AlarmStatus.UNACKNOWLEDGED) for minute in (0, 6, last_minute)]
    for interval in (60.0, {}, {"other": 600.0}):
        found = health(rows, T0, T0 + 30 * MS_PER_DAY, interval)
        assert bool(found.chattering) is chatters
    assert bool(health(rows, T0, T0 + 30 * MS_PER_DAY).chattering) is chatters
