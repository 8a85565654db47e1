"""The pages by which a board is built: their order, links, commands, and a drawing for each table."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import UTC
from pathlib import Path
from typing import Any

import pytest
from node_drawings import CHIPS, DRAWINGS, MOUNTING, WIDTH, WIRINGS, draw_all, file_name, pins, table, title
from note_pages import NOTES, command_lines, commands, headings, links, pages

from monitor.boards.battery import (
    DRAWS,
    MODULE,
    VOLTAGES,
    Assumed,
    BoardKind,
    Cell,
    at_pin_v,
    days,
    hours_without_mains,
)
from monitor.cli.app import COMMANDS, load_command
from monitor.errors import sentence
from monitor.farm.places import GOOD_DBM, WEAK_DBM
from monitor.words.localizer import Localizer

ROOT = NOTES.parent
START = NOTES / "README.md"
HANDS_ON = ("wiring.md", "onto_the_board.md", "mounting.md", "battery.md", "parts.md")
SVG = "{http://www.w3.org/2000/svg}"
# What each sensor hangs on, said here once more so that a slip in the description is noticed.
ON_PINS = {
    "sht": {"sda", "scl"},
    "bme280": {"sda", "scl"},
    "ds3231": {"sda", "scl"},
    "ds18b20": {"one_wire"},
    "moisture": {"moisture", "moisture_power"},
    "buzzer": {"buzzer"},
    "battery": {"battery"},
}


def read(name: str) -> str:
    return (NOTES / name).read_text(encoding="utf-8")


# Order and links


def test_safety_is_the_first_page_of_all() -> None:
    text = START.read_text(encoding="utf-8")

    assert links(START)[0] == "safety.md"
    box = [line for line in text.splitlines()[:15] if line.startswith(">")]
    assert len(box) >= 5
    for word in ("Mains", "3.3 V", "lithium", "water", "air"):
        assert any(word in line for line in box), word


@pytest.mark.parametrize("name", HANDS_ON)
def test_a_page_for_the_hands_begins_with_its_caution(name: str) -> None:
    head = " ".join(" ".join(read(name).splitlines()[:14]).split())

    assert re.search(r"\*\*[^*]*(3\.3 V only|nplug before|extra-low voltage|burn)|\(safety\.md\) first", head)


@pytest.mark.parametrize("page", pages(), ids=lambda page: str(page.relative_to(NOTES)))
def test_every_link_leads_to_a_file_and_to_a_heading_of_it(page: Path) -> None:
    for target in links(page):
        file, _, heading = target.partition("#")
        there = page.parent / file if file else page
        assert there.exists(), f"{page.name} points to {target}"
        assert not heading or heading in headings(there), f"{page.name} points to {target}"


def test_every_page_and_drawing_is_reached_from_the_first() -> None:
    reached, ahead = {START}, [START]
    while ahead:
        page = ahead.pop()
        for target in links(page):
            there = (page.parent / target.partition("#")[0]).resolve() if not target.startswith("#") else page
            if there not in reached:
                reached.add(there)
                ahead += [there] if there.suffix == ".md" else []

    assert set(pages()) - reached == set()
    assert set(DRAWINGS.glob("*")) - reached == set()


def test_readme_and_developers_notes_point_to_the_right_pages() -> None:
    readme, developers = (
        (ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md")
    )

    for page in ("README.md", "safety.md", "protocol.md"):
        assert f"(firmware_notes/{page})" in readme, page
    for page in ("protocol.md", "untried.md", "drawings"):
        assert f"firmware_notes/{page}" in developers, page
    for text in (readme, developers):
        for named in re.findall(r"firmware_notes/[\w./]*\w", text):
            assert (ROOT / named).exists(), named


def test_every_command_in_the_pages_exists() -> None:
    named = {command for page in pages() for command in commands(page.read_text(encoding="utf-8"))}

    assert {"board battery", "board add", "broker setup", "nodes"} <= named
    assert {command for command in named if not _exists(command.split())} == set()


def test_every_option_in_the_pages_exists() -> None:
    lines = [line for page in pages() for line in command_lines(page.read_text(encoding="utf-8"))]
    given = [(line, option) for line in lines for option in re.findall(r"--[a-z-]+", line)]

    assert len(given) >= 8
    assert [line for line, option in given if option not in _options(line.split())] == []


def _options(words: list[str]) -> set[str]:
    command = load_command(words[0])
    inner: dict[str, Any] = getattr(command, "commands", {})
    chosen = inner[words[1]] if inner else command
    return {option for parameter in chosen.params for option in parameter.opts}


def _exists(words: list[str]) -> bool:
    if words[0] not in COMMANDS:
        return False
    inner: dict[str, Any] = getattr(load_command(words[0]), "commands", {})
    return not inner or (len(words) > 1 and words[1] in inner)


# Wiring


@pytest.mark.parametrize("wiring", WIRINGS, ids=lambda wiring: wiring.key)
def test_table_drawing_and_program_have_the_same_pins(wiring: Any) -> None:
    text = read("wiring.md")
    after = text.split(f"<!-- {wiring.key} -->\n")

    assert len(after) == 2, "its place in the page"
    assert after[1].startswith(table(wiring) + "\n\n")
    for chip in CHIPS:
        shown = f"![{title(wiring, chip)}](drawings/{file_name(wiring, chip)})"
        assert shown in after[1].split("<!--")[0], "its drawing is beside it"
        used = {f"GPIO {pins()[chip][name]}" for name in ON_PINS[wiring.key]}
        drawn = (DRAWINGS / file_name(wiring, chip)).read_text(encoding="utf-8")
        words = {each.text for each in ET.fromstring(drawn).iter(f"{SVG}text") if each.text}
        column = 3 + list(CHIPS).index(chip)
        rows = [row.split("|") for row in table(wiring).splitlines()[2:]]
        assert {word for word in words if re.fullmatch(r"GPIO \d+", word)} == used
        assert {row[column].strip(" `") for row in rows if "GPIO" in row[column]} == used
        assert {row[2].strip() for row in rows} <= words, "each colour stands beside its wire as a word"


def test_every_drawing_is_as_its_script_draws_it() -> None:
    """After a change: python tests/builders/node_drawings.py."""
    on_disk = {path.name: path.read_text(encoding="utf-8") for path in DRAWINGS.glob("*")}

    assert on_disk == draw_all()
    assert len(on_disk) == len(WIRINGS) * len(CHIPS) + 1


def test_every_pin_of_the_program_stands_in_the_page() -> None:
    text = " ".join(read("wiring.md").split())

    assert set().union(*ON_PINS.values()) | {"button"} == set(pins()["esp32"]) == set(pins()["esp32c3"])
    for chip, each in pins().items():
        assert f"`GPIO {each['button']}` on an {CHIPS[chip]}" in text
        assert len(set(each.values())) == len(each), "no pin is used twice"


def test_no_pin_is_one_that_decides_how_the_chip_starts() -> None:
    """Espressif: boot mode selection; GPIO 6 to 11 of an ESP32 are its flash, 34 to 39 can only listen."""
    starts = {"esp32": {0, 2, 5, 12, 15, *range(6, 12)}, "esp32c3": {2, 8, 9, *range(12, 18)}}
    analogue = {"esp32": range(32, 40), "esp32c3": range(5)}
    for chip, each in pins().items():
        assert {pin for name, pin in each.items() if name != "button"} & starts[chip] == set()
        assert {each["moisture"], each["battery"]} <= set(analogue[chip]), "ADC1, which works beside Wi-Fi"
        if chip == "esp32":
            outputs = ("sda", "scl", "one_wire", "moisture_power", "buzzer")
            assert all(each[name] < 34 for name in outputs)


@pytest.mark.parametrize("name", sorted(draw_all()))
def test_a_drawing_says_what_it_shows_and_can_be_read_on_a_phone_and_on_paper(name: str) -> None:
    root = ET.fromstring((DRAWINGS / name).read_text(encoding="utf-8"))
    labels = (root.get("aria-labelledby") or "").split()
    by_id = {each.get("id"): each for each in root}

    assert root.get("role") == "img"
    assert [by_id[label].tag for label in labels] == [f"{SVG}title", f"{SVG}desc"]
    assert all(by_id[label].text for label in labels)
    assert (root.get("viewBox") or "").split()[2] == str(WIDTH) == "360"
    for each in root.iter(f"{SVG}text"):
        assert float(each.get("font-size") or 0) >= 14, "at 360 px"
        assert _reaches(each) <= WIDTH, each.text
    colours = {each.get(key) for each in root.iter() for key in ("fill", "stroke")} - {None, "none"}
    assert all(colour and re.fullmatch(r"#([0-9a-f])\1\1", colour) for colour in colours), (
        "shades of grey alone"
    )


def _reaches(text: ET.Element) -> float:
    """The right end of a text, taken at 0.6 of its size for each letter, which is wide for such letters."""
    wide = 0.6 * float(text.get("font-size") or 0) * len(text.text or "")
    share = {"start": 1.0, "middle": 0.5, "end": 0.0}[text.get("text-anchor") or "start"]
    return float(text.get("x") or 0) + share * wide


def test_the_drawing_of_the_probe_has_its_pull_up_between_data_and_three_volts() -> None:
    wiring = next(each for each in WIRINGS if each.key == "ds18b20")
    ((upper, ohms),) = wiring.resistors

    assert {wiring.wires[upper].to, wiring.wires[upper + 1].to} == {"3V3", "one_wire"}
    assert ohms == "4.7 kΩ"
    assert all(wire.to not in ("5V", "VIN", "VBUS") for each in WIRINGS for wire in each.wires)


def test_the_multimeter_comes_before_power() -> None:
    text = read("wiring.md")
    check = text[text.index("## The multimeter, before power") : text.index("## Long wires")]
    steps = re.split(r"^(\d+)\. ", check, flags=re.MULTILINE)

    assert [int(number) for number in steps[1::2]] == list(range(1, 13))
    assert all("Right:" in step for step in steps[2::2]), "what to read"
    unplugged, powered = " ".join(check.split()).split("### USB plugged in")
    assert "from `3V3` to `GND`. Right: **no beep**" in unplugged
    assert "olts" not in unplugged
    for words in ("3.2 to 3.4 V, never 5 V", "below 2.4 V", "at most 2.1 V"):
        assert words in powered


def test_the_mounting_page_shows_its_drawing() -> None:
    assert f"(drawings/{MOUNTING})" in read("mounting.md")


# Battery


def test_the_table_of_days_is_what_the_program_works_out() -> None:
    probes = Assumed(2.8, sentence("here"))
    draws = [MODULE, replace(MODULE, measuring_s=probes), DRAWS[BoardKind.DEVELOPMENT_BOARD]]
    rhythms = [(60.0, 1), (300.0, 1), (60.0, 10), (300.0, 12)]
    rows = read("battery.md").split("<!-- days -->\n")[1].split("\n\n")[0].splitlines()[2:]
    worked_out = [[days(Cell(2500.0), draw, *rhythm) for rhythm in rhythms] for draw in draws]

    printed = [[cell.strip() for cell in row.split("|")[2:-1]] for row in rows]
    assert printed == [[f"{each:.0f}" if each >= 10 else f"{each:.1f}" for each in row] for row in worked_out]
    assert f"about {hours_without_mains(Cell(2500.0), MODULE):.0f} hours" in " ".join(
        read("battery.md").split()
    )


def test_the_voltages_are_those_of_the_program() -> None:
    text = read("battery.md")

    for each in VOLTAGES.values():
        ends = f"{at_pin_v(each.full_v):.3g} to {at_pin_v(each.cut_off_v):.3g} V"
        assert f"| {each.full_v:g} V | {each.charge_v:g} V | {each.cut_off_v:g} V | {ends} |" in text


def test_the_signal_is_judged_as_the_page_judges_it() -> None:
    text, words = read("network.md"), Localizer.plain("en", UTC, 0)

    for dbm, name in ((f"{GOOD_DBM} and better", "good"), (f"{GOOD_DBM} to {WEAK_DBM}", "weak")):
        assert f"| {dbm} | {name} |" in text
        assert f"signal {name}" in words.t(f"board_report.signal_{name}", dbm="")
    assert f"| below {WEAK_DBM} | too weak |" in text


# Onto the board


def test_each_chip_gets_its_image_at_its_address() -> None:
    text = read("onto_the_board.md")

    for chip, image, address in (
        ("esp32", "ESP32_GENERIC-", "0x1000"),
        ("esp32c3", "ESP32_GENERIC_C3-", "0"),
    ):
        assert re.search(
            rf"^esptool --chip {chip} .*write-flash {address} {image}\d+-v1\.\d\d\.\d\.bin$", text, re.M
        )
    assert text.index("esptool image-info") < text.index("esptool erase-flash"), (
        "checked before it is written"
    )


def test_what_nobody_has_tried_stands_line_by_line_with_a_place_for_the_date() -> None:
    rows = [row.split("|") for row in read("untried.md").splitlines() if row.startswith("| ")][1:]
    first = " ".join(row[1].lower() for row in rows)

    assert len(rows) >= 15
    assert all(len(row) == 5 for row in rows)
    said = "wi-fi,signal,i²c,one-wire,32-bit,tls,drift,brown-out,adc,current,flashing,set-up"
    assert [words for words in said.split(",") if words not in first] == []


@pytest.mark.parametrize(
    "page", [page for page in pages() if page.parent == NOTES], ids=lambda page: page.name
)
def test_a_page_with_figures_of_others_has_sources_or_says_that_there_are_none(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    numbers = set(re.findall(r"\[(\d+)\](?!\()", text))

    given = set(re.findall(r"^(\d+)\. ", text.partition("\n## Sources\n")[2], re.MULTILINE))
    assert numbers <= given
    assert given <= numbers, "a source that nothing rests on"
