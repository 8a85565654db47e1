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
        ("2026-08-22;n1;move;bin-9;;;;;", "line 7: 'bin-9' is no place in the settings; do you mean"),
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


BINS = """\
when;bin;cohort;what;kg;moisture;size;larvae;age_days;cover;taken;on
1 Sep;Bin 1;;fill;10,4;68 %;60 x 40 cm;10 000;5;;;
2 Sep 18:00;bin1;;water;1,5 l;;;;;;;
3 Sep;BIN-1;;weigh;10.9 kg;;;;;;;
3/9 13:00;bin-1;;cover;;;;;;lid;;
3 Sep 14:00;bin-1;;fan;;;;;;;;on
4 Sep;bin-1;;take;200 g;;;;;;larvae;
"""


def test_bins_are_read_in_with_amounts_dates_and_places_as_people_write_them(
    farm: CohortFarm, capsys: Printed
) -> None:
    assert _import(farm, BINS) == 0, capsys.readouterr().err
    said = capsys.readouterr().out
    assert "6 entries written" in said and "To take all of it back: logbook undo import-1" in said
    entries = farm.bin_entries()
    assert [entry.kind for entry in entries] == ["fill", "water", "weigh", "cover", "fan", "take"]
    assert entries[0].body["kg"] == 10.4 and entries[0].body["larvae"] == 10_000
    assert entries[0].body["surface_m2"] == 0.24
    assert [entry.body.get("kg") for entry in entries] == [10.4, 1.5, 10.9, None, None, 0.2]
    assert entries[4].body["on"] is True
    assert {entry.subject for entry in entries} == {"bin-1"}
    assert _import(farm, BINS) == 0
    assert "0 entries written; 6 lines stood in the logbook already" in capsys.readouterr().out


def test_an_import_is_taken_back_as_one_and_can_be_read_in_again(farm: CohortFarm, capsys: Printed) -> None:
    assert _import(farm, GOOD) == 0
    assert farm.ask("cohort", "correct", "1", "--set", "animals=9000") == 0
    capsys.readouterr()
    assert farm.ask("logbook", "undo", "import-1", "--by", "ben") == 0
    assert "import-1 taken back: 4 entries do not count any more" in capsys.readouterr().out
    assert farm.ask("cohort", "list", "--all") == 0
    assert "n1" not in capsys.readouterr().out
    assert len(farm.entries()) == 9, "what was first written stays"
    assert farm.ask("logbook", "undo", "import-1") == 2
    assert "no entry of import-1 counts" in capsys.readouterr().err
    assert _import(farm, GOOD) == 0
    assert "logbook undo import-2" in capsys.readouterr().out


def test_what_rests_on_an_import_keeps_it(farm: CohortFarm, capsys: Printed) -> None:
    assert _import(farm, GOOD) == 0
    assert farm.ask("cohort", "thin", "n1", "--percent", "10", "--at", "2026-08-10") == 0
    assert farm.ask("logbook", "undo", "import-1") == 2
    assert "entry 5 (thin of n1, 2026-08-10 12:00) could not be" in capsys.readouterr().err
    assert farm.ask("cohort", "show", "n1") == 0


ODD = """\
when;cohort;bin;what;place;stage;animals;grams;event;kg;moisture;size;flies
1 Sep;e;;start;tray-1;egg;;1800;;;;;
2 Sep;f;;start;box-1;pupa;100;;;;;;
12 Sep;f;;flies;;;;;;;;;140
3 Sep;;bin-1;fill;;;;;;5,9;65 %;60 x 40 cm;
4 Sep;;bin-1;water;;;;;;40 l;;;
1 Feb 2024;g;;start;tray-1;egg;;5;;;;;
"""


def test_all_unlikely_lines_are_asked_at_once_and_written_when_one_is_sure(
    farm: CohortFarm, capsys: Printed
) -> None:
    assert _import(farm, ODD) == 2
    said = capsys.readouterr().err
    for line, what in (
        (2, "1800 g of eggs are about"),
        (4, "140 flies, and 100 animals are known of"),
        (6, "40 litres into 5.9 kg would make it"),
        (7, "that was 9"),
    ):
        assert f"line {line}: {what}" in said
    assert "4 lines are unlikely, so nothing was written; if they are right, say so: --sure" in said
    assert farm.entries() == ()
    assert _import(farm, ODD, "--sure") == 0
    assert "6 entries written" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("5 Sep;;bin-1;water;;;;;;400 l;;;", "line 8: 445.9 kg on 0.24 m² would stand 186 cm deep"),
        ("5 Sep;;bin-1;weigh;;;;;;800 kg;;;", "line 8: 800 kg weighed, and 45.9 kg at most are in it"),
        ('5 Sep;;bin-1;weigh;;;;;;"1,500 g";;;', "line 8: kg: 1,500: 1500 or 1.5? write 1500 or 1.5"),
        ("5 Sep;;bin 9;weigh;;;;;;8 kg;;;", "line 8: 'bin 9' is no place in the settings"),
        ("5 Sep;;;weigh;;;;;;8 kg;;;", "line 8: bin is empty"),
        ("5 Sep;e;;saw;;;;;first emerged;;;;", "even at the best temperature"),
        ("Fri 5 Sep;e;;thin;;;;;;;;;", "is another day of the week"),
    ],
)
def test_a_line_that_cannot_be_keeps_everything_out_however_sure_one_is(
    farm: CohortFarm, capsys: Printed, line: str, said: str
) -> None:
    assert _import(farm, f"{ODD}{line}\n", "--sure") == 2
    assert said in capsys.readouterr().err
    assert farm.entries() == () and farm.bin_entries() == ()
