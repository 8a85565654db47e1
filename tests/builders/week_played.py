"""One week of a farm as it stands on the sheet, as commands, and as forms on the page."""

from __future__ import annotations

from cohort_farm import CohortFarm

from monitor.store import Store

TYPED = """\
when;where;what;amount;use;to tray;note;by
2026-09-14;cage-1;eggs;;;;;
14 Sep 07:30;Cage 1;eggs;12.4 g;;tray-1;;Ann
2026-09-14 08:00;cage-2;eggs;7,5 g;sold;;;
2026-09-17;tray-1;hatch;80 %;;;;
2026-09-15 16:00;bin-1;feed;2 kg at 70 %;;;;Ben
2026-09-18 16:00;bin-1;harvest;0.4 kg;feed;;;
2026-09-18 16:05;bin-1;prepupae;300;;;;
2026-09-18 16:10;bin-1;residue;1.5 kg;;;;
2026-09-19;cage-1;dead flies;250;;;;
2026-09-19;bin-1;note;;;;the lid was off all night;
2026-09-20;cage-2;eggs;;;;;
"""
COMMANDS = (
    ("eggs", "cage-1", "12.4 g", "--to", "tray-1", "--at", "2026-09-14 07:30"),
    ("eggs", "cage-2", "7.5 g", "--sold", "--at", "2026-09-14 08:00"),
    ("hatched", "tray-1", "80 %", "--at", "2026-09-17"),
    ("bin", "feed", "bin-1", "2 kg at 70 %", "--at", "2026-09-15 16:00"),
    ("bin", "take", "bin-1", "0.4 kg", "larvae", "--for", "feed", "--at", "2026-09-18 16:00"),
    ("bin", "take", "bin-1", "300", "prepupae", "--at", "2026-09-18 16:05"),
    ("bin", "take", "bin-1", "1.5 kg", "residue", "--at", "2026-09-18 16:10"),
    ("dead", "cage-1", "250", "--at", "2026-09-19"),
    ("note", "bin-1", "the lid was off all night", "--at", "2026-09-19"),
)

FORMS: tuple[tuple[str, dict[str, str]], ...] = (
    (
        "/places/cage-1/write?what=collect",
        {"grams": "12.4", "use": "hatch", "tray": "tray-1", "at": "2026-09-14T07:30"},
    ),
    ("/places/cage-2/write?what=collect", {"grams": "7.5", "use": "sold", "at": "2026-09-14T08:00"}),
    (
        "/cohorts/tray-1-2026-09-14/write?what=saw&event=hatch",
        {"event": "hatch", "percent": "80", "at": "2026-09-17T12:00"},
    ),
    ("/bins/bin-1/write?what=feed", {"kg": "2", "moisture": "70", "at": "2026-09-15T16:00"}),
    ("/bins/bin-1/write?what=take", {"kg": "0.4", "what": "larvae", "use": "feed", "at": "2026-09-18T16:00"}),
    ("/bins/bin-1/write?what=take", {"animals": "300", "what": "prepupae", "at": "2026-09-18T16:05"}),
    ("/bins/bin-1/write?what=take", {"kg": "1.5", "what": "residue", "at": "2026-09-18T16:10"}),
    ("/places/cage-1/write?what=dead", {"animals": "250", "at": "2026-09-19T12:00"}),
    ("/places/bin-1/write?what=note", {"note": "the lid was off all night", "at": "2026-09-19T12:00"}),
)


def rows_of(farm: CohortFarm) -> list[tuple[object, ...]]:
    """The entries without who wrote them, when, and with which import."""
    with Store.read_only(farm.database) as store:
        return sorted(
            (
                *(each.subject_kind, each.subject, each.kind, each.at_ms),
                sorted((key, value) for key, value in each.body.items() if key != "import"),
            )
            for each in store.logbook.every()
        )
