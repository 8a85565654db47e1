"""How each sensor is wired to each board: one description for the drawings and the tables of the notes.

The pins are those of `PINS` in the board's program. `python tests/builders/node_drawings.py` draws anew.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from html import escape
from pathlib import Path

from monitor.charts.svg import element

NOTES = Path(__file__).parents[2] / "firmware_notes"
DRAWINGS = NOTES / "drawings"
CHIPS: Mapping[str, str] = {"esp32": "ESP32", "esp32c3": "ESP32-C3"}

WIDTH, LEFT, RIGHT = 360, 112, 248
"""Width of a drawing, where the wires leave the board and reach the sensor. Own choice: a phone upright."""
TOP, STEP = 74, 50
RESISTOR = 178
INK = "#000"


@dataclass(frozen=True, slots=True)
class Wire:
    """One wire: the name beside the sensor's pin, its colour, what it goes to: `3V3`, `GND`, a name of PINS.

    With `ends_between` it ends where two resistors meet, and not at the sensor.
    """

    sensor_pin: str
    colour: str
    to: str
    ends_between: bool = False


@dataclass(frozen=True, slots=True)
class Wiring:
    """One sensor: what it is called, its lines under the drawing, its wires, and where resistors go.

    `resistors` are pairs of neighbouring wires that a resistor joins.
    """

    key: str
    name: str
    wires: tuple[Wire, ...]
    under: tuple[str, ...]
    resistors: tuple[tuple[int, str], ...] = ()


SUPPLY, GROUND = Wire("VCC", "red", "3V3"), Wire("GND", "black", "GND")
I2C = (SUPPLY, Wire("SDA", "blue", "sda"), Wire("SCL", "yellow", "scl"), GROUND)
_ON_MODULE = "Pull-ups: on the module, to 3.3 V."

WIRINGS = (
    Wiring("sht", "SHT3x or SHT4x", I2C, ("Address 0x44, some 0x45.", _ON_MODULE)),
    Wiring("bme280", "BME280", I2C, ("Address 0x76, some 0x77.", _ON_MODULE)),
    Wiring("ds3231", "DS3231 clock", I2C, ("Address 0x68.", _ON_MODULE)),
    Wiring(
        "ds18b20",
        "DS18B20 probes",
        (SUPPLY, Wire("DATA", "yellow", "one_wire"), GROUND),
        (
            "One resistor for all probes, near the",
            "board, from DATA to 3.3 V, never 5 V.",
            "More probes: on the same three wires.",
        ),
        ((0, "4.7 kΩ"),),
    ),
    Wiring(
        "moisture",
        "Moisture probe",
        (Wire("VCC", "red", "moisture_power"), Wire("AOUT", "green", "moisture"), GROUND),
        ("A pin feeds it, only to measure.", "Measure AOUT first: 2.4 V at most."),
    ),
    Wiring(
        "buzzer",
        "Buzzer module",
        (SUPPLY, Wire("I/O", "white", "buzzer"), GROUND),
        ("An active one with a transistor on it,", "that sounds when I/O is high."),
    ),
    Wiring(
        "battery",
        "Battery divider",
        (
            Wire("cell +", "red", "supply"),
            Wire("between the two resistors", "green", "battery", ends_between=True),
            Wire("cell −", "black", "GND"),
        ),
        (
            "BAT: where the cell feeds the board.",
            "Two equal resistors halve the voltage:",
            "the cell's 4.2 V are 2.1 V there.",
            "Never the cell itself on a GPIO.",
        ),
        ((0, "100 kΩ"), (1, "100 kΩ")),
    ),
)
"""Every drawing, in the order of the page."""

_BOXES: Mapping[str, str] = {"battery": "cell", "buzzer": "buzzer", "ds3231": "clock", "ds18b20": "probe"}
_NAMES: Mapping[str, str] = {"3V3": "3V3", "GND": "GND", "supply": "BAT"}
_DASHES: Mapping[str, str] = {
    "red": "",
    "black": "2 5",
    "blue": "14 5",
    "yellow": "9 4 2 4",
    "green": "6 6",
    "white": "1 4",
}


def pins() -> dict[str, dict[str, int]]:
    """`PINS` as the board's program has it; read, not run: only a board has its modules."""
    tree = ast.parse((NOTES / "node" / "hardware.py").read_text(encoding="utf-8"))
    for node in tree.body:
        if isinstance(node, ast.Assign) and any(
            isinstance(t, ast.Name) and t.id == "PINS" for t in node.targets
        ):
            found: dict[str, dict[str, int]] = ast.literal_eval(node.value)
            return found
    raise AssertionError("hardware.py has no PINS")


def board_pin(wire: Wire, chip: str) -> str:
    """What stands beside the pin on the board."""
    return _NAMES[wire.to] if wire.to in _NAMES else f"GPIO {pins()[chip][wire.to]}"


def table(wiring: Wiring) -> str:
    """The table of one sensor, as it stands in the notes."""
    names = " | ".join(CHIPS.values())
    rows = [f"| {wiring.name} | wire | {names} |", "|---|---|" + "---|" * len(CHIPS)]
    for wire in wiring.wires:
        ends = " | ".join(f"`{board_pin(wire, chip)}`" for chip in CHIPS)
        rows.append(f"| {wire.sensor_pin} | {wire.colour} | {ends} |")
    return "\n".join(rows)


def file_name(wiring: Wiring, chip: str) -> str:
    """The file of one drawing."""
    return f"{wiring.key}-{chip}.svg"


def title(wiring: Wiring, chip: str) -> str:
    """What the drawing shows, in a line."""
    return f"{wiring.name} on an {CHIPS[chip]}"


def description(wiring: Wiring, chip: str) -> str:
    """The drawing in words, for whoever cannot see it."""
    wires = [f"{wire.sensor_pin}, {wire.colour} wire, to {board_pin(wire, chip)}" for wire in wiring.wires]
    joined = [
        f"{ohms} between {wiring.wires[upper].sensor_pin} and {wiring.wires[upper + 1].sensor_pin}"
        for upper, ohms in wiring.resistors
    ]
    return (
        ". ".join(
            [*wires, *(f"Resistor of {each}" for each in joined), *(" ".join(wiring.under).split(". "))]
        ).rstrip(".")
        + "."
    )


def drawing(wiring: Wiring, chip: str) -> str:
    """One drawing as a file: black on white, colours as words, so that it can be printed."""
    height = TOP - 6 + STEP * len(wiring.wires) + 20 * len(wiring.under)
    parts = [
        element("title", escape(title(wiring, chip)), id="t"),
        element("desc", escape(description(wiring, chip)), id="d"),
        element("rect", width=WIDTH, height=height, fill="#fff"),
        _text(WIDTH / 2, 24, title(wiring, chip), 17, "middle", bold=True),
        *_boxes(wiring, chip),
        *(part for number, wire in enumerate(wiring.wires) for part in _wire(wire, number, chip)),
        *(part for upper, ohms in wiring.resistors for part in _resistor(upper, ohms)),
        *(
            _text(14, height - 20 * left - 4, line, 15)
            for line, left in zip(wiring.under, range(len(wiring.under) - 1, -1, -1), strict=True)
        ),
    ]
    root = {"xmlns": "http://www.w3.org/2000/svg", "viewBox": f"0 0 {WIDTH} {height}", "role": "img"}
    return element("svg", *parts, **root, aria_labelledby="t d") + "\n"


def _boxes(wiring: Wiring, chip: str) -> Iterator[str]:
    tall = STEP * len(wiring.wires)
    for x, name in ((6, CHIPS[chip]), (RIGHT, _BOXES.get(wiring.key, "sensor"))):
        yield _box(x, TOP - 22, LEFT - 6, tall)
        yield _text(x + (LEFT - 6) / 2, TOP - 28, name, 14, "middle")


def _box(x: float, y: float, width: float, height: float) -> str:
    return element(
        "rect", x=x, y=y, width=width, height=height, rx=6, fill="#fff", stroke=INK, stroke_width=2
    )


def _wire(wire: Wire, number: int, chip: str) -> Iterator[str]:
    y = TOP + STEP * number + 3
    dashes = _DASHES[wire.colour]
    end = RESISTOR if wire.ends_between else RIGHT
    yield element("line", x1=LEFT, y1=y, x2=end, y2=y, stroke=INK, stroke_width=3, stroke_dasharray=dashes)
    yield _text(LEFT - 6, y + 5, board_pin(wire, chip), 15, "end", bold=True)
    if not wire.ends_between:
        yield _text(RIGHT + 6, y + 5, wire.sensor_pin, 15, bold=True)
    yield _text(LEFT + 6, y - 6, wire.colour, 14)


def _resistor(upper: int, ohms: str) -> Iterator[str]:
    x, y = RESISTOR, TOP + STEP * upper + 3
    yield element("path", d=f"M{x} {y}V{y + STEP}", stroke=INK, stroke_width=2)
    yield element(
        "rect", x=x - 6, y=y + 10, width=12, height=STEP - 20, fill="#fff", stroke=INK, stroke_width=2
    )
    for end in (y, y + STEP):
        yield element("circle", cx=x, cy=end, r=4, fill=INK)
    yield _text(x + 10, y + 30, ohms, 14)


def _text(x: float, y: float, words: str, size: int, anchor: str = "start", *, bold: bool = False) -> str:
    return element(
        "text",
        escape(words),
        x=float(x),
        y=float(y),
        font_family="sans-serif",
        font_size=size,
        font_weight="bold" if bold else "",
        text_anchor=anchor,
        fill=INK,
    )


MOUNTING = "mounting.svg"
_MOUNTING_WORDS = (
    "A box with the board hangs outside of the cage, higher than where its cable goes in. The cable leaves "
    "the box downwards through a gland, hangs in a loop, and rises to the hole in the wall, so that water "
    "drips off at the lowest point. Inside, only the probe hangs, tied to the wall."
)


def mounting() -> str:
    """Probe inside, board outside, and the loop from which water drips."""
    thin: dict[str, str | float] = {"fill": "none", "stroke": INK, "stroke_width": 2}
    cable: dict[str, str | float] = {"fill": "none", "stroke": INK, "stroke_width": 4}
    parts = [
        element("title", "Board outside, probe inside, drip loop between", id="t"),
        element("desc", escape(_MOUNTING_WORDS), id="d"),
        element("rect", width=WIDTH, height=330, fill="#fff"),
        element("rect", x=196, y=40, width=14, height=250, fill="#ccc", stroke=INK, stroke_width=1),
        _text(20, 26, "outside, dry", 16, bold=True),
        _text(226, 26, "inside, damp", 16, bold=True),
        element("rect", x=40, y=60, width=96, height=70, rx=6, **thin),
        _text(88, 92, "board", 16, "middle"),
        _text(88, 112, "in its box", 14, "middle"),
        element("rect", x=78, y=130, width=20, height=14, fill=INK),
        _text(72, 150, "gland", 14, "end"),
        element("path", d="M88 144V210C88 262 168 262 168 210V190H250V214", **cable),
        element("path", d="M128 262c-6 9 -6 14 0 14s6 -5 0 -14", fill=INK),
        _text(98, 298, "drip loop: the lowest point", 14, "middle"),
        _text(226, 178, "tied here", 14),
        element("rect", x=243, y=214, width=14, height=44, rx=6, fill=INK),
        _text(264, 242, "probe", 16),
    ]
    root = {"xmlns": "http://www.w3.org/2000/svg", "viewBox": f"0 0 {WIDTH} 330", "role": "img"}
    return element("svg", *parts, **root, aria_labelledby="t d") + "\n"


def draw_all() -> dict[str, str]:
    """Every drawing by its file name."""
    wired = {file_name(wiring, chip): drawing(wiring, chip) for wiring in WIRINGS for chip in CHIPS}
    return wired | {MOUNTING: mounting()}


if __name__ == "__main__":
    DRAWINGS.mkdir(exist_ok=True)
    for name, svg in draw_all().items():
        (DRAWINGS / name).write_text(svg, encoding="utf-8")
    print("\n\n".join(table(wiring) for wiring in WIRINGS))
