"""Contradictions between tables: each is refused, at its key, with what is allowed and how to mend it."""

from __future__ import annotations

from pathlib import Path

import pytest
from settings_files import ENVIRONMENT, SMALL, only_problem, problems_of, write

from monitor.settings.consistency import is_loopback
from monitor.settings.loading import load

RULE = '[[rules]]\nplace = "{place}"\nquantity = "{quantity}"\nside = "{side}"\n{rest}\n'


def rule(place: str, quantity: str, side: str, rest: str) -> str:
    return RULE.format(place=place, quantity=quantity, side=side, rest=rest)


@pytest.mark.parametrize(
    ("zone", "suggested"),
    [
        ("Africa/Gaboron", "Africa/Gaborone"),
        ("Gaborone", "Africa/Gaborone"),
        ("africa/gaborone", "Africa/Gaborone"),
        ("Afrika/Johannesburg", "Africa/Johannesburg"),
        ("America/New York", "America/New_York"),
    ],
)
def test_an_unknown_time_zone_suggests_the_nearest(tmp_path: Path, zone: str, suggested: str) -> None:
    problem = only_problem(tmp_path, SMALL.replace("Africa/Gaborone", zone))

    assert problem.key == "site.time_zone"
    assert suggested in problem.remedy


def test_a_time_zone_like_none_still_says_what_is_allowed(tmp_path: Path) -> None:
    problem = only_problem(tmp_path, SMALL.replace("Africa/Gaborone", "xq"))

    assert "region/city" in problem.allowed
    assert "look up" in problem.remedy


@pytest.mark.parametrize(
    ("added", "key", "words"),
    [
        ('[[places]]\nid = "bin-1"\nkind = "room"', 'places[2].id ("bin-1")', "places[1]"),
        ('[[nodes]]\nid = "node-01"', 'nodes[2].id ("node-01")', "nodes[0]"),
        (
            '[[recipients]]\nid = "owner"\naddress_env = "OWNER_ADDRESS"',
            'recipients[1].id ("owner")',
            "recipients[0]",
        ),
        ('[[nodes]]\nid = "bin-1"', 'nodes[2].id ("bin-1")', "a place too"),
        ('[[nodes]]\nid = "sand-hill"', "site.id", "nodes[2]"),
        ('[[nodes]]\nid = "n"\nplace = "bin-2"', 'nodes[2].place ("n")', '"bin-1"'),
        ('[[nodes]]\nid = "n"\nprobes = { a = "box" }', 'nodes[2].probes.a ("n")', '"box"'),
        (
            '[[nodes]]\nid = "n"\nmeasures = ["p/air_temprature"]',
            'nodes[2].measures ("n")',
            '"air_temperature"',
        ),
        (
            '[[places]]\nid = "tray-1"\nkind = "hatching_tray"\nroom = "bin-1"',
            'places[2].room ("tray-1")',
            "room-1",
        ),
        (
            '[[places]]\nid = "room-2"\nkind = "room"\nroom = "room-1"',
            'places[2].room ("room-2")',
            "no other",
        ),
        ('[report]\ntime = "18:00"', "report.time", "night_start"),
        ('[broker]\nembedded = true\nhost = "192.168.1.9"', "broker.host", "embedded = true"),
        ("[broker]\nembedded = true\ntls = true", "broker.tls", "mosquitto"),
        ('[broker]\npassword = "x"', "broker.password", "username"),
        ('[broker]\nca_file = "ca.pem"', "broker.ca_file", "tls = true"),
        ('[broker]\ntls = true\nca_file = "ca.pem"', "broker.ca_file", "not there"),
        ('[page]\nenabled = true\nlisten = "0.0.0.0"', "page.listen", "password"),
        ('[page]\npublic_address = "farm.example"', "page.public_address", "https://"),
        (
            '[[nodes]]\nid = "n9"\nprobe_codes = { "28FF" = "p1" }',
            'nodes[2].probe_codes.28FF ("n9")',
            "16 digits",
        ),
        ('[archive]\nurl = "localhost:8086"\nbucket = "b"', "archive.url", "http://"),
        ('[messages]\nheartbeat_url = "ping.example/topsecret"', "messages.heartbeat_url", "http://"),
        ('[[intake.plain]]\ntopic = "a/t"\nquantity = "light"', "intake.plain[0].topic", "{node}"),
        (
            '[[intake.plain]]\ntopic = "{node}/t"\nnode = "n"\nquantity = "light"',
            "intake.plain[0].topic",
            "{node}",
        ),
        ('[[intake.plain]]\ntopic = "{node}/#"\nquantity = "light"', "intake.plain[0].topic", "no #"),
        ('[[intake.plain]]\ntopic = "{node}/t"\nquantity = "lihgt"', "intake.plain[0].quantity", '"light"'),
    ],
)
def test_a_contradiction_is_refused_at_its_key(tmp_path: Path, added: str, key: str, words: str) -> None:
    problem = only_problem(tmp_path, f"{SMALL}\n{added}\n")

    assert problem.key == key
    assert words in str(problem)
    assert problem.line is not None
    assert "topsecret" not in str(problem)


def test_an_unknown_species_lists_the_known_ones(tmp_path: Path) -> None:
    problems = problems_of(write(tmp_path, SMALL.replace("[site]", '[site]\nspecies = "black_soldier"')))

    assert problems[0].key == "site.species"
    assert "black_soldier_fly" in problems[0].allowed
    assert "black_soldier_fly" in problems[0].remedy


def test_quiet_hours_that_end_when_they_begin_are_refused(tmp_path: Path) -> None:
    problem = only_problem(tmp_path, SMALL + 'quiet_hours = { start = "21:00", end = "21:00" }\n')

    assert "quiet_hours" in problem.key


def test_quiet_hours_may_span_midnight(tmp_path: Path) -> None:
    settings = load(write(tmp_path, SMALL + 'quiet_hours = { start = "21:00", end = "5:30" }\n'), ENVIRONMENT)

    assert settings.recipients[0].quiet_hours is not None


@pytest.mark.parametrize(
    ("quantity", "setpoint", "remedy"),
    [
        ("air_temperature", "100", "37.8"),
        ("substrate_moisture", "65", "0.65"),
        ("air_humidity", "0.6", "write 60"),
        ("air_temperature", "-80", "unit"),
    ],
)
def test_a_setpoint_in_another_unit_is_refused_and_converted(
    tmp_path: Path, quantity: str, setpoint: str, remedy: str
) -> None:
    text = SMALL + rule(
        "bin-1", quantity, "high", f'priority = "low"\nsetpoint = {setpoint}\nresponse = "Look."'
    )
    problems = problems_of(write(tmp_path, text))

    (problem,) = [each for each in problems if each.key == "rules[0].setpoint"]
    assert remedy in problem.remedy
    assert problem.line == 33


@pytest.mark.parametrize(
    ("text", "key", "words"),
    [
        (rule("bin-2", "substrate_temperature", "high", "setpoint = 40"), "rules[0].place", '"bin-1"'),
        (
            rule("bin-1", "substrate_temprature", "high", "setpoint = 40"),
            "rules[0].quantity",
            "substrate_temperature",
        ),
        (rule("bin-1", "light", "low", "setpoint = 40"), "rules[0].response", "response"),
        (rule("bin-1", "light", "low", "remove = true"), "rules[0]", "delete this table"),
        (
            rule("bin-1", "substrate_temperature", "low", "setpoint = 50"),
            "the setpoint of",
            "the lowest high limit",
        ),
    ],
)
def test_a_rule_that_cannot_be_meant_is_refused(tmp_path: Path, text: str, key: str, words: str) -> None:
    problems = problems_of(write(tmp_path, SMALL + text))

    assert problems[0].key.startswith(key) or problems[-1].key.startswith(key)
    assert any(words in str(problem) for problem in problems)


def test_two_rules_about_one_alarm_are_refused(tmp_path: Path) -> None:
    one = rule("bin-1", "substrate_temperature", "high", "setpoint = 39")

    assert only_problem(tmp_path, SMALL + one + one).key == "rules[1]"


@pytest.mark.parametrize(
    ("host", "expected"),
    [
        ("127.0.0.1", True),
        ("127.8.8.8", True),
        ("::1", True),
        ("localhost", True),
        ("0.0.0.0", False),
        ("::", False),
        ("192.168.1.2", False),
        ("broker.example", False),
    ],
)
def test_only_this_computer_counts_as_loopback(host: str, expected: bool) -> None:
    assert is_loopback(host) is expected
