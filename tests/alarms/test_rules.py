"""Which rules guard which place: defaults, overrides, what is wrong with them, and their plain words."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC
from itertools import product

import pytest

from monitor.alarms.rules import (
    doubt_rules,
    override_problems,
    rule_problems,
    rules_for,
    suppressed_by_design,
)
from monitor.alarms.system import SITE, Watched, system_rules
from monitor.records import AlarmRule, Computed, PlaceKind, Priority, Quantity, Side, Stage
from monitor.settings.schema import Place, RuleOverride
from monitor.settings.species import AlarmDefault, load_species
from monitor.words.alarms import explain, watched_for
from monitor.words.localizer import Localizer

WORDS = Localizer.plain("en", UTC, 0)
DEFAULTS = load_species("black_soldier_fly").alarms
BIN = Place(id="bin-1", kind=PlaceKind.GROW_OUT_BIN, title="Bin 1")
CAGE = Place(id="cage-1", kind=PlaceKind.LOVE_CAGE)
TRAY = Place(id="tray-1", kind=PlaceKind.HATCHING_TRAY, stage=Stage.EGG)
BOX = Place(id="box-1", kind=PlaceKind.PUPATION_BOX)
ROOM = Place(id="room-1", kind=PlaceKind.ROOM)
PREPUPAE = (Stage.PREPUPA, Stage.PUPA, Stage.EGG)
ALL = (ROOM, CAGE, TRAY, BIN, BOX)

# Design defaults: place, quantity, side, priority, setpoint. The ones without a priority there are medium.
EXPECTED = [
    ("bin-1", "substrate_temperature", "high", "medium", 44),
    ("bin-1", "substrate_temperature", "high", "high", 46),
    ("bin-1", "substrate_temperature", "low", "medium", 20),
    *[
        (place, "air_temperature", side, priority, setpoint)
        for place in ("room-1", "cage-1")
        for side, priority, setpoint in (
            ("high", "medium", 36),
            ("high", "high", 40),
            ("low", "low", 22),
            ("low", "high", 15),
        )
    ],
    ("tray-1", "air_humidity", "low", "medium", 60),
    ("tray-1", "air_humidity", "low", "high", 50),
    ("tray-1", "air_temperature", "low", "medium", 24),
    ("tray-1", "air_temperature", "high", "medium", 34),
    ("box-1", "air_temperature", "low", "medium", 22),
    ("box-1", "air_temperature", "high", "medium", 34),
    ("box-1", "air_temperature", "high", "high", 36),
    ("box-1", "air_humidity", "low", "medium", 40),
    ("cage-1", "air_humidity", "low", "medium", 40),
    ("bin-1", "minutes_to_overheating", "low", "high", 60),
    ("bin-1", "hours_to_dry", "low", "medium", 12),
    ("tray-1", "vapour_pressure_deficit", "high", "low", 2000),
    ("tray-1", "condensation_margin", "low", "low", 0),
]


def by_id(rules: tuple[AlarmRule, ...]) -> dict[str, AlarmRule]:
    return {rule.alarm_id: rule for rule in rules}


def override(**keys: object) -> RuleOverride:
    given = {"quantity": "substrate_temperature", "side": "high", "priority": "high", **keys}
    return RuleOverride.model_validate(given)


@pytest.mark.parametrize(("place", "quantity", "side", "priority", "setpoint"), EXPECTED, ids=str)
def test_design_default(place: str, quantity: str, side: str, priority: str, setpoint: float) -> None:
    assert by_id(rules_for(ALL, DEFAULTS, ()))[f"{place}/{quantity}/{side}/{priority}"].setpoint == setpoint


@pytest.mark.parametrize(
    "default", DEFAULTS, ids=lambda d: f"{d.place_kinds[0]}-{d.quantity}-{d.side}-{d.priority}"
)
def test_every_default_says_what_happens_and_what_to_do(default: AlarmDefault) -> None:
    assert default.consequence.endswith(".")
    assert 1 <= default.response.count(".") <= 3
    assert "!" not in default.consequence + default.response + default.caution
    if default.quantity.endswith(("temperature", "humidity")):
        assert 0.5 <= default.deadband <= 3
        longest = 60 if default.priority is Priority.MEDIUM and default.stages == PREPUPAE else 10
        assert 2 <= default.on_delay_minutes <= longest
        assert 5 <= default.off_delay_minutes <= 15


def test_words_that_touch_heat_fans_or_gases_carry_a_caution() -> None:
    for default in DEFAULTS:
        text = (default.consequence + default.response).lower()
        if any(word in text for word in ("fan", "heater", "heat mat", "ammonia")):
            assert default.caution, default.response


def test_the_defaults_do_not_contradict_each_other() -> None:
    assert rule_problems(rules_for(ALL, DEFAULTS, ())) == ()


def test_rules_come_in_the_order_of_the_places() -> None:
    places = [rule.place for rule in rules_for(ALL, DEFAULTS, ())]
    assert list(dict.fromkeys(places)) == [place.id for place in ALL]


def test_a_rule_of_a_stage_holds_for_it_and_where_no_stage_is_given() -> None:
    vpd = "tray-1/vapour_pressure_deficit/high/low"
    for stage, there in ((Stage.EGG, True), (None, True), (Stage.LARVA, False)):
        tray = TRAY.model_copy(update={"stage": stage})
        assert (vpd in by_id(rules_for((tray,), DEFAULTS, ()))) is there


def test_minutes_to_overheating_takes_the_response_time_of_the_place() -> None:
    quick = BIN.model_copy(update={"response_minutes": 10.0})
    name = "bin-1/minutes_to_overheating/low/high"
    assert by_id(rules_for((quick,), DEFAULTS, ()))[name].setpoint == 40.0
    change = override(place="bin-1", quantity="minutes_to_overheating", side="low", setpoint=20)
    assert by_id(rules_for((quick,), DEFAULTS, (change,)))[name].setpoint == 20.0


HEAT = "bin-1/substrate_temperature/high"


@pytest.mark.parametrize(
    ("stages", "high", "medium"),
    [
        (None, 46.0, 44.0),
        ({Stage.LARVA}, 46.0, 44.0),
        ({Stage.LARVA, Stage.PREPUPA}, 42.0, 38.0),
        (set(), 42.0, 38.0),
        ({Stage.PREPUPA}, 42.0, 38.0),
        ({Stage.PREPUPA, Stage.PUPA}, 42.0, 38.0),
        ({Stage.EGG}, 42.0, 38.0),
    ],
)
def test_those_that_cannot_flee_are_guarded_more_strictly(
    stages: set[Stage] | None, high: float, medium: float
) -> None:
    """None: nobody said what is in the bin; an empty set: it is not known."""
    said = {} if stages is None else {"bin-1": frozenset(stages)}
    rules = by_id(rules_for((BIN,), DEFAULTS, (), said))
    assert rules[f"{HEAT}/high"].setpoint == high
    assert rules[f"{HEAT}/medium"].setpoint == medium
    assert rule_problems(rules.values()) == ()


def test_one_stage_more_that_may_be_there_never_loosens_a_limit() -> None:
    for known, more in product(Stage, Stage):
        alone, both = (
            by_id(rules_for((BIN,), DEFAULTS, (), {"bin-1": frozenset(stages)}))
            for stages in ({known}, {known, more})
        )
        assert alone.keys() <= both.keys()
        assert all(both[name].setpoint <= alone[name].setpoint for name in alone if HEAT in name)


@pytest.mark.parametrize("rise_k_h", [0.5, 1.0, 2.0, 3.0, 5.0, 8.0])
def test_prepupae_that_may_be_among_larvae_take_no_warning_of_a_rise_away(rise_k_h: float) -> None:
    """Their limit is lower and waits an hour; in a quick rise the early alarm comes before both.

    Known: in a bin that rises quickly and then stays between 44 and 46 °C the alarm comes within the hour.
    """
    larvae, both = (
        by_id(rules_for((BIN,), DEFAULTS, (), {"bin-1": frozenset(stages)}))
        for stages in ({Stage.LARVA}, {Stage.LARVA, Stage.PREPUPA})
    )

    def first_alarm_h(rules: dict[str, AlarmRule]) -> float:
        heat = [rules[f"{HEAT}/{priority}"] for priority in ("high", "medium")]
        early = rules["bin-1/minutes_to_overheating/low/high"]
        foreseen_h = (heat[0].setpoint - 30.0) / rise_k_h - early.setpoint / 60.0
        waited_h = [(rule.setpoint - 30.0) / rise_k_h + rule.on_delay_s / 3600.0 for rule in heat]
        return min(*waited_h, foreseen_h + early.on_delay_s / 3600.0)

    assert first_alarm_h(both) <= first_alarm_h(larvae)


def test_eggs_and_pupae_have_a_high_limit_of_heat() -> None:
    rules = by_id(rules_for(ALL, DEFAULTS, ()))
    for place in ("tray-1", "box-1"):
        assert rules[f"{place}/air_temperature/high/high"].setpoint == 36.0


def test_alarms_of_heat_are_held_for_one_night_and_no_other() -> None:
    for rule in rules_for(ALL, DEFAULTS, ()):
        is_heat = rule.side is Side.HIGH and rule.quantity.endswith("temperature")
        is_heat = is_heat or rule.quantity == Computed.MINUTES_TO_OVERHEATING
        assert (rule.realarm_after_s, rule.realarm_step > 0) == (12 * 3600.0 if is_heat else 0.0, is_heat)


def test_a_farm_can_hold_another_time_and_step() -> None:
    change = override(place="bin-1", setpoint=45.0, realarm_after_hours=2.0, realarm_step=0.5)
    rule = by_id(rules_for(ALL, DEFAULTS, (change,)))[f"{HEAT}/high"]
    assert (rule.realarm_after_s, rule.realarm_step) == (7200.0, 0.5)
    assert (
        by_id(rules_for(ALL, DEFAULTS, (override(place="bin-1", realarm_after_hours=0.0),)))[
            f"{HEAT}/high"
        ].realarm_after_s
        == 0.0
    )


def test_a_milder_default_keeps_its_distance_from_a_graver_limit_that_was_moved() -> None:
    """A file of the release before with its own high limit of 42 °C still loads."""
    change = override(place="bin-1", setpoint=42.0)
    rules = by_id(rules_for(ALL, DEFAULTS, (change,)))
    assert (rules[f"{HEAT}/high"].setpoint, rules[f"{HEAT}/medium"].setpoint) == (42.0, 40.0)
    assert override_problems(ALL, DEFAULTS, (change,)) == ()
    looser = by_id(rules_for(ALL, DEFAULTS, (override(place="bin-1", setpoint=48.0),)))
    assert looser[f"{HEAT}/medium"].setpoint == 44.0


def test_an_override_changes_what_it_names_and_nothing_else() -> None:
    before = by_id(rules_for(ALL, DEFAULTS, ()))
    change = override(place="bin-1", setpoint=45.0, on_delay_minutes=1)
    after = by_id(rules_for(ALL, DEFAULTS, (change,)))
    name = "bin-1/substrate_temperature/high/high"
    assert after.keys() == before.keys()
    assert [n for n in before if before[n] != after[n]] == [name]
    rule = replace(
        before[name], setpoint=45.0, on_delay_s=60.0, mark="choice", source="the settings of this farm"
    )
    assert after[name] == rule


def test_texts_alone_leave_the_mark_of_the_number() -> None:
    name = "box-1/air_temperature/high/high"
    change = override(
        place="box-1", quantity="air_temperature", response="Carry the box to the cellar.", caution=""
    )
    rule = by_id(rules_for(ALL, DEFAULTS, (change,)))[name]
    assert (rule.mark, rule.setpoint, rule.response) == ("published", 36.0, "Carry the box to the cellar.")
    assert rule.caution == ""


def test_the_single_place_has_the_last_word_whatever_the_order() -> None:
    other = BIN.model_copy(update={"id": "bin-2"})
    one, kind = override(place="bin-1", setpoint=41), override(place_kind="grow_out_bin", setpoint=43)
    for overrides in ((one, kind), (kind, one)):
        rules = by_id(rules_for((BIN, other), DEFAULTS, overrides))
        assert rules["bin-1/substrate_temperature/high/high"].setpoint == 41
        assert rules["bin-2/substrate_temperature/high/high"].setpoint == 43


def test_a_rule_can_be_removed() -> None:
    gone = override(place="bin-1", remove=True)
    assert "bin-1/substrate_temperature/high/high" not in by_id(rules_for(ALL, DEFAULTS, (gone,)))
    assert override_problems(ALL, DEFAULTS, (gone,)) == ()


def test_a_rule_can_be_added() -> None:
    new = override(
        place="room-1", quantity="air_humidity", priority="low", setpoint=90, response="Open the vents."
    )
    rule = by_id(rules_for(ALL, DEFAULTS, (new,)))["room-1/air_humidity/high/low"]
    assert (rule.setpoint, rule.deadband, rule.on_delay_s, rule.mark) == (90, 3.0, 600.0, "choice")
    assert override_problems(ALL, DEFAULTS, (new,)) == ()


@pytest.mark.parametrize(
    ("keys", "key", "words"),
    [
        ({"setpoint": 41}, "rules[0]", "neither or both"),
        ({"place": "bin-1", "place_kind": "room", "setpoint": 41}, "rules[0]", "neither or both"),
        ({"place": "bin-9", "setpoint": 41}, "rules[0].place", "bin-1"),
        (
            {"place": "bin-1", "quantity": "heat", "setpoint": 1, "response": "Go."},
            "rules[0].quantity",
            "air_temperature",
        ),
        ({"place": "room-1", "remove": True}, "rules[0]", "not there"),
        ({"place": "room-1", "setpoint": 30}, "rules[0].response", "missing in a new rule"),
        ({"place": "room-1", "response": "Go."}, "rules[0].setpoint", "missing in a new rule"),
    ],
    ids=lambda value: str(value)[:50],
)
def test_an_override_that_makes_no_sense_is_named(keys: dict[str, object], key: str, words: str) -> None:
    [problem] = override_problems(ALL, DEFAULTS, (override(**keys),))
    assert problem.key == key
    assert words in str(problem)
    assert "To mend" in str(problem)


def test_a_kind_of_place_that_the_farm_has_not_is_named() -> None:
    [problem] = override_problems((BIN,), DEFAULTS, (override(place_kind="room", setpoint=41),))
    assert (problem.key, problem.allowed) == ("rules[0].place_kind", "grow_out_bin")


@pytest.mark.parametrize(
    ("keys", "named"),
    [
        ({"priority": "medium", "setpoint": 47}, "bin-1/substrate_temperature/high/medium"),
        ({"side": "low", "priority": "medium", "setpoint": 44}, "bin-1/substrate_temperature/low/medium"),
        (
            {"side": "low", "priority": "high", "setpoint": 25, "response": "Go."},
            "bin-1/substrate_temperature/low/medium",
        ),
    ],
    ids=str,
)
def test_limits_that_contradict_each_other_are_named(keys: dict[str, object], named: str) -> None:
    [problem] = override_problems(ALL, DEFAULTS, (override(place="bin-1", **keys),))
    assert named in str(problem.key)


def test_all_problems_are_reported_at_once() -> None:
    wrong = (override(place="bin-8", setpoint=1), override(place="bin-9", setpoint=1))
    assert [p.key for p in override_problems(ALL, DEFAULTS, wrong)] == ["rules[0].place", "rules[1].place"]


# --- suppressed by design ---


def test_a_place_that_is_not_guarded_suppresses_all_its_alarms() -> None:
    places = (BIN, TRAY)
    rules = rules_for(places, DEFAULTS, ())
    reasons = suppressed_by_design(places, rules, {"bin-1": "said to be empty"})
    assert set(reasons) == {rule.alarm_id for rule in rules if rule.place == "bin-1"}
    assert set(reasons.values()) == {"said to be empty"}


def test_a_finishing_bin_does_not_alarm_as_drought_but_still_as_heat() -> None:
    places = (BIN.model_copy(update={"finishing": True}),)
    assert set(suppressed_by_design(places, rules_for(places, DEFAULTS, ()), {})) == {
        "bin-1/hours_to_dry/low/medium",
        "bin-1/substrate_moisture/low/medium",
    }


def test_only_an_empty_place_has_the_alarms_of_a_doubt_and_they_are_not_held_back() -> None:
    warm, moist = doubt_rules(["bin-1"])
    assert (warm.setpoint, warm.priority) == (3.0, Priority.MEDIUM)
    assert (warm.quantity, moist.quantity) == (Computed.SUBSTRATE_EXCESS, Quantity.SUBSTRATE_MOISTURE)
    assert (moist.setpoint, moist.priority) == (0.45, Priority.LOW)
    assert (warm.deadband, moist.deadband) == (1.0, 0.03)
    assert warm.alarm_id != moist.alarm_id
    assert doubt_rules([]) == ()


def test_rules_of_the_monitor_itself_are_never_suppressed_by_a_place() -> None:
    assert suppressed_by_design((BIN,), system_rules([Watched("node-1", 120)]), {"node-1": "x"}) == {}


# --- plain words ---


@pytest.mark.parametrize(
    ("name", "said"),
    [
        (
            "bin-1/substrate_temperature/high/high",
            "substrate temperature above 46 °C for 2 min wakes you.",
        ),
        ("bin-1/minutes_to_overheating/low/high", "overheating expected within 60 min wakes you."),
        (
            "bin-1/hours_to_dry/low/medium",
            "may be too dry within 12 h sends a message, outside quiet hours.",
        ),
        (
            "bin-1/substrate_moisture/low/medium",
            "substrate moisture below 45 % for 10 min sends a message, outside quiet hours.",
        ),
        (
            "tray-1/condensation_margin/low/low",
            "a surface below the dew point stands in the night report.",
        ),
        ("tray-1/air_humidity/low/high", "air humidity below 50 % for 5 min wakes you."),
    ],
)
def test_explain(name: str, said: str) -> None:
    rule = by_id(rules_for(ALL, DEFAULTS, ()))[name]
    assert explain(rule, WORDS) == said


def test_explain_a_delay_of_one_minute_and_of_none() -> None:
    rule = by_id(rules_for(ALL, DEFAULTS, ()))["bin-1/substrate_temperature/high/high"]
    assert "for 1 min wakes" in explain(replace(rule, on_delay_s=60.0), WORDS)
    assert "for 1.5 min wakes" in explain(replace(rule, on_delay_s=90.0), WORDS)
    assert "46 °C wakes" in explain(replace(rule, on_delay_s=0.0), WORDS)


# --- the monitor about itself ---


def test_system_rules() -> None:
    rules = by_id(system_rules([Watched("node-1", 120.0, 3.3), Watched("node-2", 600.0)], 6.0))
    assert {name: rule.setpoint for name, rule in rules.items()} == {
        "site/silent_node_share/high/high": 0.5,
        "site/unheard_nodes/high/medium": 0.5,
        "site/store_fault/high/high": 0.5,
        "site/broker_way_fault/high/high": 0.5,
        "site/unsent_message_minutes/high/medium": 30.0,
        "site/archive_lag_hours/high/low": 6.0,
        "node-1/silent_minutes/high/medium": 2.0,
        "node-1/dead_sensor_minutes/high/medium": 2.0,
        "node-1/battery/low/medium": 3.3,
        "node-2/silent_minutes/high/medium": 10.0,
        "node-2/dead_sensor_minutes/high/medium": 10.0,
    }
    assert all(rule.response and rule.consequence for rule in rules.values())
    assert watched_for(rules["node-1/silent_minutes/high/medium"], WORDS) == "silent for more than 2 min"
    assert (
        watched_for(rules["site/silent_node_share/high/high"], WORDS)
        == "more than 50 % of the boards silent at once"
    )


def test_without_an_archive_there_is_no_rule_for_it() -> None:
    assert {rule.quantity for rule in system_rules([]) if rule.place == SITE} == {
        "silent_node_share",
        "unheard_nodes",
        "store_fault",
        "broker_way_fault",
        "unsent_message_minutes",
    }
    assert all(rule.side is Side.HIGH for rule in system_rules([]))
    assert Priority.LOW not in {rule.priority for rule in system_rules([])}
