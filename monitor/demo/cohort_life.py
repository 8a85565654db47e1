"""One invented cohort: what truly happens to it, and what its keeper writes down."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Any

import numpy as np
import numpy.typing as npt

from monitor.model.clocks import Clocks
from monitor.model.cohort_entries import EntryKind
from monitor.model.development import CohortTrack, Residence, stage_ends_ms
from monitor.model.events import EVENTS, Event, ended_stage, events_of
from monitor.model.individuals import emerged_share, emergence_log_sd, log_sd_of, time_of_share
from monitor.model.rates import SpeciesParameters
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_SECOND, LogbookEntry, Stage, SubjectKind

KEEPER = "keeper"
SEEN_SHARE = 0.8
DAY_SD = 0.35
BREEDING_ANIMALS = 1400
PREPUPA_GRAMS = 0.16
SURVIVAL_TO_FLY = 0.68
FLY_DAYS = 18
WATCHED = (
    Event.HATCH,
    Event.FIRST_PREPUPAE,
    Event.HALF_PREPUPAE,
    Event.FIRST_MOTIONLESS,
    Event.HALF_MOTIONLESS,
)

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Life:
    """Where a cohort hatches, which bin it fills and when, where a share of it rests, and for which cage."""

    name: str
    tray: str
    laid_ms: int
    grams: float
    bin: str | None = None
    filled_ms: int | None = None
    box: str | None = None
    cage: str | None = None

    @property
    def flies(self) -> str:
        """Name of the share that is kept for breeding."""
        return f"{self.name}-flies"


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """When each event truly happens, when the share is taken out of the bin, and half emergence."""

    events: Mapping[Event, float]
    taken_ms: float
    half_emerged_ms: float


def live(life: Life, species: SpeciesParameters, constants: FloatArray, clocks: Clocks) -> Truth:
    """What truly happens: the way through the places depends on when the first leave the bin."""
    stays = [Residence(life.tray, life.laid_ms)]
    if life.bin is not None and life.filled_ms is not None:
        stays.append(Residence(life.bin, life.filled_ms))
    events, _ = _events(life, stays, species, constants, clocks)
    taken_ms = events[Event.FIRST_PREPUPAE] + MS_PER_DAY
    if life.box is not None and np.isfinite(taken_ms):
        stays.append(Residence(life.box, round(taken_ms)))
        events, half_ms = _events(life, stays, species, constants, clocks)
        return Truth(events, taken_ms, half_ms)
    return Truth(events, taken_ms, events[Event.HALF_EMERGED])


def _events(
    life: Life, stays: list[Residence], species: SpeciesParameters, constants: FloatArray, clocks: Clocks
) -> tuple[dict[Event, float], float]:
    track = CohortTrack(life.name, life.laid_ms, tuple(stays))
    ends = stage_ends_ms(track, species, constants[:, None], clocks.of)[:, 0]
    log_sd = log_sd_of(species.individual_variation)
    found: dict[Event, float] = {}
    for event in events_of(species):
        middle_ms = float(ends[ended_stage(event, species) or 0])
        spread = log_sd
        if EVENTS[event].begins is Stage.ADULT and np.isfinite(middle_ms):
            days = (middle_ms - life.laid_ms) / MS_PER_DAY
            spread = float(emergence_log_sd(log_sd, species.adult, days))
        found[event] = float(time_of_share(life.laid_ms, middle_ms, spread, EVENTS[event].share))
    return found, found[Event.HALF_EMERGED]


def keepers_notes(
    life: Life,
    truth: Truth,
    species: SpeciesParameters,
    random: np.random.Generator,
    zone: tzinfo,
    now_ms: int,
) -> list[LogbookEntry]:
    """What the keeper wrote of this cohort up to now."""
    notes = [
        *_in_the_bin(life, truth, random, zone),
        *(_in_the_box(life, truth, species, random, zone) if life.box is not None else ()),
    ]
    return [note for note in notes if note.entered_ms < now_ms]


def _note(name: str, kind: EntryKind, at_ms: float, **body: Any) -> LogbookEntry:
    at = round(at_ms / MS_PER_HOUR) * MS_PER_HOUR
    said = {key: value for key, value in body.items() if value is not None}
    return LogbookEntry(SubjectKind.COHORT, name, kind, at, at + MS_PER_HOUR, KEEPER, said)


def _in_the_bin(
    life: Life, truth: Truth, random: np.random.Generator, zone: tzinfo
) -> Iterator[LogbookEntry]:
    yield _note(
        life.name,
        EntryKind.START,
        life.laid_ms,
        stage=Stage.EGG.value,
        place=life.tray,
        grams=life.grams,
        purpose="feed" if life.bin is not None else None,
    )
    early = {Event.HATCH, Event.FIRST_PREPUPAE}
    yield from _sightings(life.name, truth, early, random, zone)
    if life.bin is None or life.filled_ms is None:
        return
    yield _note(life.name, EntryKind.MOVE, life.filled_ms, place=life.bin)
    larvae = round(life.grams * 20_000, -3)
    yield _note(life.name, EntryKind.COUNT, life.filled_ms + MS_PER_HOUR, animals=larvae, stage="larva")
    if not np.isfinite(truth.taken_ms):
        return
    if life.box is not None:
        yield _note(
            life.name,
            EntryKind.SPLIT,
            truth.taken_ms,
            into=life.flies,
            animals=BREEDING_ANIMALS,
            animals_stage="prepupa",
            place=life.box,
            purpose="breeding",
            cage=life.cage,
        )
    grams = round(0.75 * larvae * PREPUPA_GRAMS * float(random.uniform(0.85, 1.15)), -1)
    yield _note(life.name, EntryKind.END, truth.taken_ms + 6 * MS_PER_HOUR, how="harvested", grams=grams)


def _in_the_box(
    life: Life, truth: Truth, species: SpeciesParameters, random: np.random.Generator, zone: tzinfo
) -> Iterator[LogbookEntry]:
    late = set(WATCHED) - {Event.HATCH, Event.FIRST_PREPUPAE}
    for note in _sightings(life.flies, truth, late, random, zone):
        if note.at_ms > truth.taken_ms:
            yield note
    if np.isfinite(truth.half_emerged_ms):
        yield from _flies(life, truth, species, random, zone)


def _sightings(
    name: str, truth: Truth, wanted: set[Event], random: np.random.Generator, zone: tzinfo
) -> Iterator[LogbookEntry]:
    for event in WATCHED:
        seen, off_days = random.random() < SEEN_SHARE, random.normal(0.0, DAY_SD)
        if event in wanted and seen and np.isfinite(truth.events[event]):
            at_ms = daytime(truth.events[event] + off_days * MS_PER_DAY, zone)
            yield _note(name, EntryKind.SAW, at_ms, event=event.value, sure_days=0.5)


def daytime(at_ms: float, zone: tzinfo) -> int:
    """The nearest hour of that day at which somebody looks: 07:00 to 17:00."""
    at = datetime.fromtimestamp(at_ms / MS_PER_SECOND, zone)
    looked = at.replace(hour=min(max(at.hour, 7), 17), minute=0, second=0, microsecond=0)
    return round(looked.timestamp() * MS_PER_SECOND)


def _flies(
    life: Life, truth: Truth, species: SpeciesParameters, random: np.random.Generator, zone: tzinfo
) -> Iterator[LogbookEntry]:
    """Daily counts, until a day brings next to none."""
    noon_ms = daytime(truth.half_emerged_ms, zone) // MS_PER_DAY * MS_PER_DAY + 10 * MS_PER_HOUR
    days_ms = noon_ms + np.arange(-FLY_DAYS // 2, FLY_DAYS) * float(MS_PER_DAY)
    middle = np.array([truth.half_emerged_ms])
    log_sd = log_sd_of(species.individual_variation)
    females, males = emerged_share(days_ms, life.laid_ms, middle, log_sd, species.adult)
    out = np.diff((females + males)[0]) * BREEDING_ANIMALS * SURVIVAL_TO_FLY
    began = False
    for at_ms, expected in zip(days_ms[1:].tolist(), out.tolist(), strict=True):
        count = int(random.poisson(expected))
        began = began or count > 0
        if began and (count > 0 or at_ms < truth.half_emerged_ms):
            yield _note(life.flies, EntryKind.FLIES, at_ms, flies=count)
        if began and at_ms > truth.half_emerged_ms and expected < 2.0:
            yield _note(life.flies, EntryKind.END, at_ms + 2 * MS_PER_HOUR, how="emerged")
            return
