"""The sensors that a board may carry: how they are named on the card, at which address, what they measure.

The board program (`firmware_notes/node/sensors.py`) reads the same names.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from monitor.errors import Problem, sentence
from monitor.records import PlaceKind, Quantity

MOST_PROBES = 8
ONE_WIRE = "ds18b20"
BATTERY = "battery"
MOISTURE = "moisture"
PROBE_QUANTITIES = (
    Quantity.SUBSTRATE_TEMPERATURE,
    Quantity.AIR_TEMPERATURE,
    Quantity.SURFACE_TEMPERATURE,
)
"""What the probe of a one-wire thermometer may measure; the first is what it is for in a bin."""
_AIR = (Quantity.AIR_TEMPERATURE, Quantity.AIR_HUMIDITY)
_IN_AIR = frozenset({PlaceKind.ROOM, PlaceKind.LOVE_CAGE})


@dataclass(frozen=True, slots=True)
class SensorKind:
    """One kind: what it measures, and the addresses that it can have on the I2C bus, the usual one first."""

    measures: tuple[Quantity, ...] = ()
    addresses: tuple[int, ...] = ()


# Addresses: data sheets of SHT3x-DIS (ADDR pin), SHT4x (variants A and B), BME280 (SDO pin), DS3231 (fixed).
KINDS: Mapping[str, SensorKind] = {
    "sht3x": SensorKind(_AIR, (0x44, 0x45)),
    "sht4x": SensorKind(_AIR, (0x44, 0x45)),
    "bme280": SensorKind(_AIR, (0x76, 0x77)),
    ONE_WIRE: SensorKind(),
    MOISTURE: SensorKind((Quantity.SUBSTRATE_MOISTURE,)),
    BATTERY: SensorKind((Quantity.BATTERY,)),
    "ds3231": SensorKind((), (0x68,)),
}


def allowed_specs() -> tuple[str, ...]:
    """Every name that a sensor may have on a card."""
    found = []
    for name, kind in KINDS.items():
        found.append(name)
        found += [f"{name}@{address:x}" for address in kind.addresses[1:]]
        if name == ONE_WIRE:
            found += [f"{name}:{quantity}" for quantity in PROBE_QUANTITIES]
    return tuple(found)


def kind_of(spec: str) -> str:
    """The kind in a name such as `sht4x@45` or `ds18b20:air_temperature`."""
    return spec.partition("@")[0].partition(":")[0]


def address_of(spec: str) -> int | None:
    """The address on the I2C bus; None for what is on no such bus."""
    name, _, written = spec.partition("@")
    kind = KINDS.get(kind_of(name), SensorKind())
    if written:
        return int(written, 16)
    return kind.addresses[0] if kind.addresses else None


def full_spec(written: str, place: PlaceKind | None) -> str:
    """The name as it stands on the card: a one-wire thermometer says what its probe lies in."""
    spec = written.strip().lower()
    if spec != ONE_WIRE:
        return spec
    quantity = Quantity.AIR_TEMPERATURE if place in _IN_AIR else Quantity.SUBSTRATE_TEMPERATURE
    return f"{ONE_WIRE}:{quantity}"


def measured_names(specs: Sequence[str], probes: Sequence[str]) -> Iterator[str]:
    """What the board sends, as quantity or probe/quantity, in the order of its sensors."""
    for spec in specs:
        if kind_of(spec) == ONE_WIRE:
            quantity = spec.partition(":")[2] or str(Quantity.SUBSTRATE_TEMPERATURE)
            yield from (f"{probe}/{quantity}" for probe in probes)
            if not probes:
                yield quantity
        else:
            yield from map(str, KINDS[kind_of(spec)].measures)


def sensor_problems(where: str, specs: Sequence[str], probes: Sequence[str] = ()) -> Iterator[Problem]:
    """Everything that is wrong with the sensors of one board."""
    allowed = allowed_specs()
    known = [spec for spec in specs if spec in allowed]
    for spec in specs:
        if spec not in allowed:
            yield Problem(
                where,
                sentence("a sensor"),
                f'"{spec}"',
                ", ".join(allowed),
                sentence(
                    "write the type of the part: ds18b20 is the steel probe on a cable, for substrate; "
                    "sht3x, sht4x and bme280 measure air; with @ and its address where that is not "
                    "the usual one"
                ),
            )
    if not specs:
        remedy = sentence("name at least one sensor with {option}", option="--sensor")
        yield Problem(where, sentence("the list of sensors"), sentence("empty"), ", ".join(allowed), remedy)
    yield from _on_one_address(where, known)
    yield from _twice(where, known, probes)
    if probes and ONE_WIRE not in map(kind_of, specs):
        yield Problem(
            where,
            sentence("the list of probes"),
            ", ".join(probes),
            sentence("probes of a one-wire thermometer ({name})", name=ONE_WIRE),
            sentence("add {option}, or leave the probes out", option=f"--sensor {ONE_WIRE}"),
        )


def _on_one_address(where: str, specs: Sequence[str]) -> Iterator[Problem]:
    by_address: dict[int, list[str]] = {}
    for spec in specs:
        address = address_of(spec)
        if address is not None:
            by_address.setdefault(address, []).append(spec)
    for address, here in by_address.items():
        if len(here) > 1:
            yield Problem(
                where,
                sentence("the I2C address {address}", address=f"0x{address:02x}"),
                ", ".join(here),
                sentence("one sensor at each address"),
                sentence(
                    "set the address pin of one of them (see the wiring) and name it such as {example}",
                    example="sht4x@45",
                ),
            )


def _twice(where: str, specs: Sequence[str], probes: Sequence[str]) -> Iterator[Problem]:
    """What two sensors of one board would send under one name; of sensors at one address it is said once."""
    kinds = Counter(kind_of(spec) for spec in specs)
    addresses = Counter(address_of(spec) for spec in specs)
    single = [spec for spec in specs if address_of(spec) is None or addresses[address_of(spec)] == 1]
    for name, count in kinds.items():
        if count > 1 and not KINDS[name].addresses:
            remedy = sentence(
                "name it once; several one-wire probes hang on one pin, and get names as probes"
            )
            yield Problem(where, name, sentence("named {count} times", count=str(count)), "1", remedy)
    names = Counter(
        measured_names([spec for spec in single if kinds[kind_of(spec)] == 1 or "@" in spec], probes)
    )
    for name, count in names.items():
        if count > 1:
            yield Problem(
                where,
                name,
                sentence("measured by {count} sensors of one board", count=str(count)),
                sentence("one sensor for each"),
                sentence("take one of them to a board of its own, or name the probes of the thermometer"),
            )
