"""Sums of yields with nothing in them but what a test says."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from monitor.records import MS_PER_DAY
from monitor.yields.cages import CageSum
from monitor.yields.cohorts import Conversions
from monitor.yields.figures import Figure, Lack, unknown
from monitor.yields.fillings import FillingSum
from monitor.yields.sums import Kept, PeriodSum, Span

NOW = 1_790_000_000_000
DAY = MS_PER_DAY
NOTHING = unknown(Lack.NOTHING_WRITTEN)


def _with_nothing(kind: type, known: dict[str, Any]) -> Any:
    """A record all of whose other figures say that nothing was written."""
    figures = {each.name: NOTHING for each in fields(kind) if each.type in ("Figure", Figure)}
    return kind(**{**figures, **known})


def cage_sum(**figures: Any) -> CageSum:
    """The sums of a cage."""
    made: CageSum = _with_nothing(
        CageSum, {"place": "cage-1", "first_ms": 0, "last_ms": NOW, "uses": {}, **figures}
    )
    return made


def filling_sum(**figures: Any) -> FillingSum:
    """The sums of a filling whose residue nobody weighed."""
    about = {
        "place": "bin-1",
        "filling_ms": NOW,
        "cohort": None,
        "ends_ms": None,
        "is_over": True,
        "uses": {},
    }
    made: FillingSum = _with_nothing(FillingSum, {**about, "reduction": unknown(Lack.RESIDUE), **figures})
    return made


def conversions(**figures: Any) -> Conversions:
    """The ratios of several fillings."""
    made: Conversions = _with_nothing(Conversions, {"fillings": 0, **figures})
    return made


def period(span: Span, start_ms: int, end_ms: int, **figures: Any) -> PeriodSum:
    """A week or month."""
    about: dict[str, Any] = {"span": span, "start_ms": start_ms, "end_ms": end_ms, "income": None}
    empty = {"egg_uses": {}, "larva_uses": {}, "eggs_by_cage": {}, "conversions": conversions()}
    made: PeriodSum = _with_nothing(PeriodSum, {**about, **empty, "kept": Kept(NOTHING, None), **figures})
    return made
