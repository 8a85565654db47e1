"""The notes for people who build nodes say what the program does: payloads, tables, links."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from note_pages import dangerous_sentences, pages

from monitor.board_records import Ask, BoardReport
from monitor.boards.broker_files import ACCESS, STORING
from monitor.boards.card import checksum
from monitor.climate.calibration import LEAST_SPREAD, SLOPES, salt_humidity_percent
from monitor.climate.psychrometrics import saturation_vapour_pressure_pa, standard_pressure_pa
from monitor.intake.board_talk import answer
from monitor.intake.connection import EXPIRY_S
from monitor.intake.payload import MOST_BYTES, Topics, understand
from monitor.intake.senml import FIRST_ABSOLUTE_S, MOST_RECORDS
from monitor.records import QUANTITIES, IncomingMessage, NodeMessage, Quantity

NOTES = Path(__file__).parents[1] / "firmware_notes"
PROTOCOL = (NOTES / "protocol.md").read_text(encoding="utf-8")
CALIBRATION = (NOTES / "calibration.md").read_text(encoding="utf-8")
_JSON = re.findall(r"```json\n(.*?)```", PROTOCOL, flags=re.DOTALL)
PACKS = [text for text in _JSON if text.startswith("[")]
TALK = [json.loads(text) for text in _JSON if text.startswith("{")]


@pytest.mark.parametrize("pack", PACKS)
def test_every_pack_in_the_notes_is_taken_whole(pack: str) -> None:
    message = IncomingMessage("rearing/saltbush-yard/node-01/readings", pack.encode(), 1_790_000_001_000)
    understood = understand(message, Topics("saltbush-yard"))

    assert isinstance(understood, NodeMessage)
    assert len(understood.readings) == pack.count('"n":') - 2
    assert (understood.boot, understood.clock_fault) == (17, None)
    assert understood.sequence is not None


def test_the_notes_hold_packs() -> None:
    assert len(PACKS) == 4


def test_what_board_and_monitor_say_to_each_other_is_what_the_program_reads_and_writes() -> None:
    ask, said, report, settings = TALK
    topic = "rearing/saltbush-yard/node-01/ask"
    read = understand(
        IncomingMessage(topic, json.dumps(ask).encode(), 1_790_000_000_500), Topics("saltbush-yard")
    )

    assert isinstance(read, Ask)
    assert json.loads(answer(read, said["unix_ms"], said["done"])) == said
    assert settings["sum"] == checksum(settings)
    message = IncomingMessage(topic.replace("ask", "report"), json.dumps(report).encode(), 1_790_000_000_500)
    understood = understand(message, Topics("saltbush-yard"))
    assert isinstance(understood, BoardReport)
    assert {key: getattr(understood, key) for key in report} == report
    assert len(message.payload) <= 1000


@pytest.mark.parametrize("quantity", sorted(Quantity))
def test_every_quantity_is_named_with_its_unit(quantity: str) -> None:
    lines = [line for line in PROTOCOL.splitlines() if f"`{quantity}`" in line and line.startswith("|")]

    assert any(f"`{QUANTITIES[quantity].unit}`" in line for line in lines)


def test_limits_stand_as_the_program_has_them() -> None:
    assert f"**{EXPIRY_S}** seconds" in PROTOCOL
    assert f"At most {MOST_BYTES // 1024} KiB and {MOST_RECORDS} records" in PROTOCOL
    assert f"below {FIRST_ABSOLUTE_S:,} (2^28)" in PROTOCOL
    assert f"nearer than {LEAST_SPREAD[Quantity.AIR_HUMIDITY]:g} %RH" in CALIBRATION
    assert f"nearer than {LEAST_SPREAD[Quantity.AIR_TEMPERATURE]:g} °C" in CALIBRATION
    assert f"outside of {SLOPES[0]:g} to {SLOPES[1]:g}" in CALIBRATION


def test_what_the_broker_needs_is_what_broker_setup_writes() -> None:
    for key in ("autosave_interval", "max_queued_messages", "max_inflight_messages", "max_packet_size"):
        assert f"`{key} {STORING[key]}`" in PROTOCOL
    rules = ACCESS.format(marker="", user="rearing-monitor", base="rearing/saltbush-yard")
    for rule in re.findall(r"^pattern .*$", rules, re.MULTILINE):
        assert f"`{rule}`" in PROTOCOL
    for figure in ("499 of 500", "3.6 GB", "4,000 messages"):
        assert figure in PROTOCOL, "the trap of autosave"


def test_the_wear_of_the_flash_is_what_the_backlog_says_of_itself() -> None:
    """tests/node/test_board_backlog.py counts it."""
    said = (NOTES / "node" / "backlog.py").read_text(encoding="utf-8").partition('"""')[2].partition('"""')[0]
    each, by_ten = re.findall(r"([\d,]+) when each round is written, (\d+) by ten", said)[0]
    cost = f"costs {each} erasures where each round is written by itself, {by_ten} by ten"
    assert cost in _one_line(PROTOCOL)
    week = re.findall(r"A week of minutes with four values takes ([\d.]+ MB)", _one_line(said))[0]
    assert f"a week of minutes takes {week}" in _one_line(PROTOCOL)


def _one_line(text: str) -> str:
    return " ".join(text.split())


def test_salt_table_is_what_the_program_computes() -> None:
    rows = re.findall(
        r"^\| (\d+) °C \| ([\d.]+) % \| ([\d.]+) % \| ([\d.]+) % \| ([\d.]+) % \|$", CALIBRATION, re.M
    )

    assert len(rows) == 5
    for at_c, *humidities in rows:
        for salt, printed in zip(("MgCl2", "NaCl", "KCl", "K2SO4"), humidities, strict=True):
            assert float(printed) == pytest.approx(salt_humidity_percent(salt, float(at_c)), abs=0.051)


def test_boiling_points_fit_pressure_and_altitude() -> None:
    """At the printed temperature the saturation pressure is that of the altitude, within 0.1 K."""
    rows = re.findall(r"^\| (\d+) m \| ([\d.]+) °C \|$", CALIBRATION, re.M)

    assert len(rows) == 5
    for altitude_m, boils_c in rows:
        low, high = (saturation_vapour_pressure_pa(float(boils_c) + step) for step in (-0.1, 0.1))
        assert low < standard_pressure_pa(float(altitude_m)) < high


@pytest.mark.parametrize("page", pages(), ids=lambda page: page.name)
def test_no_page_lets_five_volts_onto_a_pin(page: Path) -> None:
    assert dangerous_sentences(page.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    "sentence",
    [
        "- Supply 3.3 V or 5 V from a class II plug-in supply with SELV output, or from a battery.",
        "One pull-up resistor of about 4.7 kΩ from data to supply\nnear the board [5].",
        "**DHT22:** pull-up of 4.7 to 10 kΩ, cable of a few metres.",
        "Put 4.7 kΩ between data and VCC, from data to VCC.",
        "The pull-up goes to 3.3 V, on a long cable to 5 V.",
        "| red | VIN |",
        "Give the moisture probe 5 V, its output is fine.",
        "Solder the cell straight to GPIO 35.",
        "The battery goes on an ADC pin.",
        "An output of 4.5 V on a GPIO is fine.",
        "The pull-up is not needed at 3.3 V; on long cables pull up to 5V.",
    ],
)
def test_what_was_dangerous_is_found(sentence: str) -> None:
    """The first three stood in the notes."""
    assert dangerous_sentences(sentence) != []


@pytest.mark.parametrize(
    "sentence",
    [
        "Every pull-up goes to 3.3 V, never to 5 V.",
        "Read 3.3 V between data and ground, not 5 V.",
        "The board itself eats 5 V from its USB plug.",
        "The box is 1.5 V off.",
        "Never the cell on a GPIO.",
        "Two resistors halve the 4.2 V of the cell for the GPIO.",
    ],
)
def test_what_is_safe_is_not_called_dangerous(sentence: str) -> None:
    assert dangerous_sentences(sentence) == []
