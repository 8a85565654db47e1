"""Which fields each kind of entry has. What can be chosen comes from the farm and is named in its words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from monitor.model.bin_events import Taken
from monitor.model.bin_records import BinEntryKind
from monitor.model.cohort_entries import Ending, EntryKind, Purpose
from monitor.model.evaporation import Cover
from monitor.model.events import events_of
from monitor.records import PlaceKind, Stage, SubjectKind
from monitor.settings.development import species_parameters
from monitor.settings.plan import Plan
from monitor.views.page.entry_fields import Choices, Field, Reads
from monitor.views.page.words import Words

_KG = Field("kg", Reads.KILOGRAMS, needed=True)
_MOISTURE = Field("moisture", Reads.SHARE, needed=True)
_PLACE = Field("place", Reads.CHOICE, needed=True)
_STAGE = Field("stage", Reads.CHOICE, needed=True)
_ANIMALS, _GRAMS = Field("animals", Reads.WHOLE), Field("grams", Reads.NUMBER)
_PURPOSE, _CAGE = Field("purpose", Reads.CHOICE), Field("cage", Reads.CHOICE)
_LARVAE, _AGE = Field("larvae", Reads.WHOLE), Field("age_days", Reads.NUMBER)
_PERCENT = Field("percent", Reads.NUMBER)

BIN_FIELDS: Mapping[str, Sequence[Field]] = {
    BinEntryKind.WATER: (Field("kg", Reads.LITRES, needed=True),),
    BinEntryKind.WEIGH: (_KG,),
    BinEntryKind.STIR: (),
    BinEntryKind.FEED: (_KG, _MOISTURE),
    BinEntryKind.TEST: (_MOISTURE, Field("rough", Reads.FLAG)),
    BinEntryKind.COVER: (Field("cover", Reads.CHOICE, needed=True),),
    BinEntryKind.FAN: (Field("on", Reads.SWITCH, needed=True),),
    BinEntryKind.LARVAE: (Field("larvae", Reads.WHOLE, needed=True), _AGE),
    BinEntryKind.TAKE: (_KG, Field("what", Reads.CHOICE, needed=True)),
    BinEntryKind.FINISH: (),
    BinEntryKind.EMPTY: (),
    BinEntryKind.FILL: (
        _KG,
        _MOISTURE,
        Field("surface_m2", Reads.SIZE),
        Field("depth_m", Reads.LENGTH),
        _LARVAE,
        _AGE,
    ),
}
COHORT_FIELDS: Mapping[str, Sequence[Field]] = {
    EntryKind.SAW: (Field("event", Reads.CHOICE, needed=True), Field("sure_days", Reads.NUMBER)),
    EntryKind.FLIES: (Field("flies", Reads.WHOLE, needed=True),),
    EntryKind.EGGS: (Field("grams", Reads.NUMBER, needed=True),),
    EntryKind.COUNT: (Field("animals", Reads.WHOLE, needed=True), _STAGE),
    EntryKind.MOVE: (_PLACE, _PURPOSE, _CAGE),
    EntryKind.PLANNED_MOVE: (_PLACE, _PURPOSE, _CAGE),
    EntryKind.SPLIT: (
        Field("into", Reads.TEXT, needed=True),
        _PERCENT,
        Field("place", Reads.CHOICE),
        _PURPOSE,
        _CAGE,
    ),
    EntryKind.MERGE: (Field("other", Reads.CHOICE, needed=True),),
    EntryKind.THIN: (_PERCENT, _ANIMALS),
    EntryKind.END: (Field("how", Reads.CHOICE, needed=True), _GRAMS, _ANIMALS),
    EntryKind.START: (_STAGE, _PLACE, _GRAMS, _ANIMALS, _PURPOSE, _CAGE),
}


def kinds_of(about: SubjectKind) -> Mapping[str, Sequence[Field]]:
    """All kinds of entries about cohorts or about bins."""
    return COHORT_FIELDS if about is SubjectKind.COHORT else BIN_FIELDS


def fields_of(
    about: SubjectKind, kind: str, plan: Plan, words: Words, others: Iterable[str] = ()
) -> list[Field]:
    """The fields of a kind with what can be chosen; `others` are cohorts that may be put into this one."""
    found = []
    for field in kinds_of(about)[kind]:
        choices = _CHOICES.get(field.key)
        if field.key == "other":
            found.append(_chosen(field, [(name, name) for name in others]))
        else:
            found.append(_chosen(field, choices(plan, words)) if choices else field)
    return found


def _chosen(field: Field, choices: Choices) -> Field:
    return Field(field.key, field.reads, field.needed, tuple(choices))


def _named(group: str, values: Iterable[str]) -> Callable[[Plan, Words], Choices]:
    listed = tuple(values)
    return lambda _, words: [(value, words.t(f"{group}.{value}")) for value in listed]


def _places(plan: Plan, _words: Words) -> Choices:
    return [(place.id, plan.title(place.id)) for place in plan.settings.places]


def _cages(plan: Plan, _words: Words) -> Choices:
    cages = (place.id for place in plan.settings.places if place.kind is PlaceKind.LOVE_CAGE)
    return [(cage, plan.title(cage)) for cage in cages]


def _stages(plan: Plan, words: Words) -> Choices:
    return [(stage, words.t(f"stage.{stage}")) for stage in stages_of_farm(plan)]


def _events(plan: Plan, words: Words) -> Choices:
    events = events_of(species_parameters(plan.species))
    return [(event, words.t(f"seen.{event}")) for event in events]


def stages_of_farm(plan: Plan) -> tuple[Stage, ...]:
    """The stages that the farm's species passes."""
    return tuple(stage.stage for stage in species_parameters(plan.species).stages)


_CHOICES: Mapping[str, Callable[[Plan, Words], Choices]] = {
    "place": _places,
    "cage": _cages,
    "stage": _stages,
    "event": _events,
    "how": _named("ending", (each for each in Ending if each is not Ending.MERGED)),
    "purpose": _named("purpose", Purpose),
    "cover": _named("cover", Cover),
    "what": _named("taken", Taken),
    "on": lambda _, words: [("on", words.t("field.switch_on")), ("off", words.t("field.switch_off"))],
}
