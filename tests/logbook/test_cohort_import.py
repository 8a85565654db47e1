"""A paper notebook as CSV: all of it or nothing, every wrong line with its reason."""

from __future__ import annotations

from pathlib import Path

import pytest
from cohort_farm import CohortFarm, make_farm, printed_json

Printed = pytest.CaptureFixture[str]
GOOD = """\
when;cohort;what;place;stage;animals;event;note;by
2026-08-01;n1;start;tray-1;egg;8 000;;from the paper book;ben
2026-08-05 08:00;n1;move;bin-1;;;;;
2026-08-04;n1;saw;;;;hatch;;
2026-08-23;n1;saw;;;;First prepupae;;

"""


@pytest.fixture
def farm(tmp_path: Path) -> CohortFarm:
    return make_farm(tmp_path)


def _import(farm: CohortFarm, text: str, *options: str) -> int:
    (farm.folder / "book.csv").write_text(text, encoding="utf-8")
    return farm.ask("cohort", "import", str(farm.folder / "book.csv"), *options)


def test_a_notebook_is_read_in_once(farm: CohortFarm, capsys: Printed) -> None:
    assert _import(farm, GOOD, "--try") == 0
    assert "4 entries would be written" in capsys.readouterr().out
    assert farm.entries() == ()

    assert _import(farm, GOOD) == 0
    assert "4 entries written" in capsys.readouterr().out
    first = next(entry for entry in farm.entries() if entry.kind == "start")
    assert (first.author, first.body["animals"], first.body["note"]) == ("ben", 8000, "from the paper book")

    assert _import(farm, GOOD) == 0
    assert "0 entries written; 4 lines stood in the logbook already" in capsys.readouterr().out
    assert len(farm.entries()) == 4


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("2026-07-20;n1;saw;;;;half prepupae;;", "line 7: n1: 2026-07-20 12:00 is before its start"),
        ("2026-10-20;n1;saw;;;;half prepupae;;", "line 7: n1: 2026-10-20 12:00 lies ahead"),
        ("2026-08-22;n1;jump;;;;;;", "line 7: what is 'jump'; allowed: start, move"),
        ("2026-08-22;;saw;;;;hatch;;", "line 7: cohort is empty"),
        ("sometime;n1;saw;;;;hatch;;", "line 7: 'sometime' is no time that is understood"),
        ("2026-08-22;n1;move;bin-9;;;;;", "line 7: n1: place is 'bin-9'; allowed: room-1"),
        ("2026-08-22;n1;count;;larva;many;;;", "line 7: animals: 'many' is no number; allowed"),
        ('2026-08-22;n1;count;;larva;"10,000";;;', "line 7: animals: 10,000: 10000 or 10? write 10000 or 10"),
        ("2026-08-22;n1;saw;;;;hatch;;;;", "line 7: it has more cells than the first line has names"),
        ("2026-08-22;n2;saw;;;;hatch;;", "line 7: n2: there is no cohort n2 at that time"),
    ],
)
def test_one_wrong_line_keeps_everything_out(
    farm: CohortFarm, capsys: Printed, line: str, reason: str
) -> None:
    assert _import(farm, f"{GOOD}{line}\n") == 2
    said = capsys.readouterr().err
    assert reason in said
    assert "nothing was written" in said
    assert farm.entries() == ()


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("when,cohort\n", "the columns what are missing"),
        ("when,cohort,what,colour\n", "the columns colour are not known; allowed in the first line: when"),
        ("", "the columns when, cohort, what are missing"),
    ],
)
def test_wrong_columns_are_named(farm: CohortFarm, capsys: Printed, text: str, reason: str) -> None:
    assert _import(farm, text) == 2
    assert reason in " ".join(capsys.readouterr().err.split())


def test_a_file_that_is_not_there_or_no_text(farm: CohortFarm, capsys: Printed) -> None:
    assert farm.ask("cohort", "import", str(farm.folder / "none.csv")) == 2
    assert "none.csv cannot be read: No such file" in capsys.readouterr().err.replace("\n", " ")
    (farm.folder / "bad.csv").write_bytes(b"\xff\xfe\x00when")
    assert farm.ask("cohort", "import", str(farm.folder / "bad.csv")) == 2
    assert "is not UTF-8 text" in capsys.readouterr().err.replace("\n", " ")


def test_the_report_as_json(farm: CohortFarm, capsys: Printed) -> None:
    assert _import(farm, f"{GOOD}2026-08-22;n1;jump;;;;;;\n", "--json") == 2
    told = printed_json(capsys)
    assert (told["written"], told["problems"][0]["line"]) == (0, 7)


def test_a_line_that_makes_a_written_entry_impossible_is_refused(farm: CohortFarm, capsys: Printed) -> None:
    farm.write("n1", "start", 60.0, stage="egg", place="tray-1")
    farm.write("n1", "move", 50.0, place="bin-1")
    number = len(farm.entries())
    assert _import(farm, "when,cohort,what,how\n2026-07-30,n1,end,lost\n") == 2
    assert f"entry {number} could then not be: n1 ended on" in capsys.readouterr().err
