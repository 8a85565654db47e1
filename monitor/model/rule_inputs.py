"""What the rules are made from: a place, a default of the species, an override of the settings."""

from __future__ import annotations

from typing import Protocol

from monitor.records import PlaceKind, Priority, Side, Stage


class PlaceFacts(Protocol):
    """What the rules need to know of a place."""

    id: str
    kind: PlaceKind
    title: str
    stage: Stage | None
    empty: bool
    finishing: bool
    response_minutes: float


class RuleDefault(Protocol):
    """One default rule of a species; `stages` empty means all of them."""

    place_kinds: tuple[PlaceKind, ...]
    stages: tuple[Stage, ...]
    quantity: str
    side: Side
    priority: Priority
    setpoint: float
    deadband: float
    on_delay_minutes: float
    off_delay_minutes: float
    consequence: str
    response: str
    caution: str
    source: str

    @property
    def mark(self) -> str:
        """How sure the setpoint is: published, cited, common practice or choice."""


class Override(Protocol):
    """One [[rules]] table of the settings; None leaves the default as it is."""

    place: str | None
    place_kind: PlaceKind | None
    quantity: str
    side: Side
    priority: Priority
    remove: bool
    setpoint: float | None
    deadband: float | None
    on_delay_minutes: float | None
    off_delay_minutes: float | None
    consequence: str | None
    response: str | None
    caution: str | None
