"""`place`, `board` and `check` as a person runs them: what is guarded, who said otherwise, the way back."""

from __future__ import annotations

from pathlib import Path

import pytest
from cohort_farm import CohortFarm, make_farm

from monitor.records import SubjectKind
from monitor.store import Store

Printed = pytest.CaptureFixture[str]


@pytest.fixture
def farm(tmp_path: Path) -> CohortFarm:
    return make_farm(tmp_path)


def _said(farm: CohortFarm, capsys: Printed, *words: str) -> str:
    assert farm.ask(*words) == 0, capsys.readouterr().err
    return " ".join(capsys.readouterr().out.split())


def _refused(farm: CohortFarm, capsys: Printed, *words: str) -> str:
    assert farm.ask(*words) == 2
    return " ".join(capsys.readouterr().err.split())


def _kinds(farm: CohortFarm, about: SubjectKind = SubjectKind.PLACE) -> list[tuple[str, str]]:
    with Store.read_only(farm.database) as store:
        return [(entry.subject, entry.kind) for entry in store.logbook.every(about)]


def test_a_place_is_said_to_be_empty_with_who_and_why_and_the_way_back(
    farm: CohortFarm, capsys: Printed
) -> None:
    said = _said(farm, capsys, "place", "empty", "Bin 1", "box-1", "--by", "Ben", "--note", "washed")
    assert "Bin 1: no animals in it (washed)" in said
    assert _kinds(farm) == [("bin-1", "empty"), ("box-1", "empty")]
    listed = _said(farm, capsys, "place", "list")
    assert "Bin 1 (bin-1): empty. No animals in it, said Ben, 07:00. Reason: washed." in listed
    assert "To undo: rearing-monitor place in-use bin-1" in listed
    assert "Bin 2 (bin-2): not known. No" in listed, "nothing is heard from there now"
    _said(farm, capsys, "place", "in-use", "bin-1")
    assert "Bin 1 (bin-1): not known. No" in _said(farm, capsys, "place", "list")


def test_where_animals_live_by_the_logbook_it_asks_and_sure_answers(
    farm: CohortFarm, capsys: Printed
) -> None:
    farm.write("c", "start", 5.0, stage="larva", place="bin-1")
    refused = _refused(farm, capsys, "place", "empty", "bin-1")
    assert "Bin 1: by the logbook animals live in it. Nothing was written." in refused
    assert "--sure" in refused
    assert _kinds(farm) == []
    _said(farm, capsys, "place", "empty", "bin-1", "--sure")
    assert _kinds(farm) == [("bin-1", "empty")]


@pytest.mark.parametrize(
    ("length", "fits"), [("15 min", True), ("14 min", False), ("4 h", True), ("5 h", False)]
)
def test_a_place_is_put_aside_from_15_minutes_to_4_hours(
    farm: CohortFarm, capsys: Printed, length: str, fits: bool
) -> None:
    assert farm.ask("place", "aside", "tray-1", "--for", length) == (0 if fits else 2)
    assert _kinds(farm) == ([("tray-1", "aside")] if fits else [])
    assert fits or "allowed: from 15 minutes to 4 hours" in capsys.readouterr().err


def test_a_board_is_put_aside_and_back(farm: CohortFarm, capsys: Printed) -> None:
    assert "node-02: put aside until" in _said(farm, capsys, "board", "aside", "node-02", "--for", "24 h")
    farm.ask("now")
    assert "Not measured by board node-02 until" in " ".join(capsys.readouterr().out.split())
    _said(farm, capsys, "board", "in-use", "node-02")
    assert _kinds(farm, SubjectKind.NODE) == [("node-02", "aside"), ("node-02", "in_use")]
    assert "known: node-01" in _refused(farm, capsys, "board", "aside", "n99")


@pytest.mark.parametrize(
    ("leaving", "left"),
    [
        (("cohort", "merge", "other", "c"), "bin-1"),
        (("cohort", "move", "c", "box-1"), "bin-1"),
        (("cohort", "end", "c", "sold"), "bin-1"),
    ],
)
@pytest.mark.parametrize("emptied", [True, False])
def test_what_leaves_a_place_without_animals_asks_and_emptied_answers(
    farm: CohortFarm, capsys: Printed, leaving: tuple[str, ...], left: str, emptied: bool
) -> None:
    farm.write("c", "start", 5.0, stage="larva", place="bin-1")
    farm.write("other", "start", 5.0, stage="larva", place="bin-2")
    said = _said(farm, capsys, *leaving, *(("--emptied",) if emptied else ()))
    assert _kinds(farm) == ([(left, "empty")] if emptied else [])
    stays = f"If it is empty: rearing-monitor place empty {left}"
    assert (stays in said) is not emptied


def test_emptied_is_refused_where_animals_stay(farm: CohortFarm, capsys: Printed) -> None:
    farm.write("c", "start", 5.0, stage="larva", place="bin-1")
    farm.write("other", "start", 5.0, stage="larva", place="bin-1")
    refused = _refused(farm, capsys, "cohort", "end", "c", "sold", "--emptied")
    assert "no place is without animals by that" in refused
    with Store.read_only(farm.database) as store:
        assert len(store.logbook.every()) == 2, "nothing is half written"


def test_check_lists_what_is_not_guarded_and_says_where_a_key_has_no_effect(
    farm: CohortFarm, capsys: Printed
) -> None:
    path = farm.folder / "farm.toml"
    text = path.read_text(encoding="utf-8")
    for place in ("bin-1", "bin-2"):
        text = text.replace(f'id = "{place}"\n', f'id = "{place}"\nempty = true\n')
    path.write_text(text, encoding="utf-8")
    path.chmod(0o600)
    farm.write("c", "start", 5.0, stage="larva", place="bin-1")
    _said(farm, capsys, "place", "empty", "box-1", "--by", "Ben")
    said = _said(farm, capsys, "check")
    assert "bin-1: empty = true has no effect" in said
    assert "bin-2: empty = true has no effect" not in said
    assert "No animals in it, said Ben" in said
    assert "No animals in it, says farm.toml" in said
