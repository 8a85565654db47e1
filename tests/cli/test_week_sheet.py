"""A week played by hand: the sheet is printed, written on, typed in, tried, read in, and taken back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import html5lib
import pytest
from cohort_farm import NOW_MS, CohortFarm, make_farm
from farm_yields import takings_of_farm
from takings_book import without_numbers
from week_played import COMMANDS, TYPED, rows_of

from monitor.logbook.sheet import WORDS
from monitor.store import Store
from monitor.words.catalogue import LANGUAGES
from monitor.words.entries import spoken_words
from monitor.yields.records import EggUse, LarvaeUse, Takings

Call = Callable[..., tuple[int, str, str]]


def _farm(folder: Path) -> CohortFarm:
    folder.mkdir()
    farm = make_farm(folder)
    filled = ("--size", "60 x 40 cm", "--larvae", "9000", "--at", "2026-09-10 09:00")
    assert farm.ask("bin", "fill", "bin-1", "10 kg at 70 %", *filled) == 0
    return farm


@pytest.fixture
def farm(tmp_path: Path) -> CohortFarm:
    return _farm(tmp_path / "farm")


@pytest.fixture
def call(farm: CohortFarm, capsys: pytest.CaptureFixture[str]) -> Call:
    def call_it(*words: str) -> tuple[int, str, str]:
        code = farm.ask(*words)
        said = capsys.readouterr()
        return code, said.out, said.err

    return call_it


def _takings(farm: CohortFarm) -> Takings:
    with Store.read_only(farm.database) as store:
        return without_numbers(takings_of_farm(store, farm.plan(), NOW_MS))


def test_a_week_typed_in_is_tried_read_in_and_taken_back(
    farm: CohortFarm, call: Call, tmp_path: Path
) -> None:
    before, sheet = _takings(farm), tmp_path / "week.csv"
    sheet.write_text(TYPED, encoding="utf-8")
    code, out, err = call("cohort", "import", str(sheet), "--try")
    assert code == 0 and "9 entries would be written" in out, err
    assert _takings(farm) == before, "a trial writes nothing"
    code, out, err = call("cohort", "import", str(sheet))
    assert code == 0 and "9 entries written" in out, err
    takings = _takings(farm)
    assert [(each.grams, each.use, each.tray) for each in takings.eggs] == [
        (12.4, EggUse.HATCH, "tray-1"),
        (7.5, EggUse.SOLD, None),
    ]
    assert [each.share for each in takings.hatches] == [0.8]
    assert takings.hatches[0].cohort == takings.eggs[0].into
    assert [(each.kg, each.use) for each in takings.larvae_out] == [(0.4, LarvaeUse.FEED)]
    assert takings.prepupae[0].count == 300 and takings.residues[0].kg == 1.5
    assert takings.dead_flies[0].count == 250
    code, out, _ = call("cohort", "import", str(sheet))
    assert code == 0 and "9 lines stood in the logbook already" in out
    assert call("logbook", "undo", "import-1")[0] == 0
    assert _takings(farm) == before


def test_a_sheet_gives_the_same_rows_as_the_commands(farm: CohortFarm, call: Call, tmp_path: Path) -> None:
    sheet, other = tmp_path / "week.csv", _farm(tmp_path / "other")
    sheet.write_text(TYPED.replace(";", "\t"), encoding="utf-8")
    assert call("cohort", "import", str(sheet))[0] == 0
    for command in COMMANDS:
        assert other.ask(*command) == 0, command
    assert rows_of(farm) == rows_of(other)
    assert _takings(farm) == _takings(other)


def test_every_wrong_line_is_named_and_nothing_is_written(
    farm: CohortFarm, call: Call, tmp_path: Path
) -> None:
    before, sheet = _takings(farm), tmp_path / "week.csv"
    wrong = (
        "2026-09-14,cage-9,eggs,12 g,,,,\n"
        "2026-09-14,bin-1,eggs,12 g,,,,\n"
        "2026-09-14,cage-1,egs,12 g,,,,\n"
        "2026-09-14,cage-1,eggs,,sold,,,\n"
        "2026-09-14,cage-1,eggs,12 g,lost,,,\n"
        "2026-09-14,tray-1,hatch,80 %,,,,\n"
        "2026-09-14,bin-1,harvest,400,,,,\n"
        "2026-09-18 09:00,bin-1,harvest,4000 kg,,,,\n"
        "2026-09-14,bin-1,note,,,,,Ann\n"
    )
    sheet.write_text("when,where,what,amount,use,to,note,by\n" + wrong, encoding="utf-8")
    code, _, err = call("cohort", "import", str(sheet))
    said = " ".join(err.split())
    assert code == 2
    assert [f"line {line}:" in said for line in range(2, 11)] == [True] * 9
    assert "4000 kg taken out" in said and "4 kg?" in said and "grams or kilograms?" in said
    assert _takings(farm) == before


def test_an_unlikely_line_is_asked_once(farm: CohortFarm, call: Call, tmp_path: Path) -> None:
    sheet = tmp_path / "week.csv"
    sheet.write_text("when;where;what;amount\n2026-09-14;cage-1;eggs;400\n", encoding="utf-8")
    code, _, err = call("cohort", "import", str(sheet))
    assert code == 2 and "40 g?" in " ".join(err.split())
    assert call("cohort", "import", str(sheet), "--sure")[0] == 0
    assert [each.grams for each in _takings(farm).eggs] == [400.0]


@pytest.mark.parametrize("language", ["fr", "sw"])
def test_a_sheet_in_another_language_is_read_as_it_is_printed(
    farm: CohortFarm, call: Call, tmp_path: Path, language: str
) -> None:
    settings = farm.folder / "farm.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace("[site]\n", f'[site]\nlanguage = "{language}"\n', 1), encoding="utf-8")
    sheet = tmp_path / "week.csv"
    assert call("logbook", "sheet", str(sheet), "--week", "2026-09-16")[0] == 0
    lines = sheet.read_text(encoding="utf-8-sig").splitlines()
    assert len(lines) == 1 + 7 * 2
    lines[1] = lines[1].replace(";;", ";12.4 g;", 1)
    sheet.write_text("\n".join(lines) + "\n", encoding="utf-8")
    code, _, err = call("cohort", "import", str(sheet))
    assert code == 0, err
    assert [(each.grams, each.place) for each in _takings(farm).eggs] == [(12.4, "cage-1")]


def test_the_printed_sheet_is_a_page_with_the_farms_own_places(call: Call, tmp_path: Path) -> None:
    sheet = tmp_path / "week.html"
    code, out, _ = call("logbook", "sheet", str(sheet))
    assert code == 0 and "the week from 2026-09-21" in " ".join(out.split())
    text = sheet.read_text(encoding="utf-8")
    html5lib.HTMLParser(strict=True).parse(text)
    assert "Sand Hill: week from 2026-09-21 to 2026-09-27" in text and "size: A4" in text
    for place in ("cage-1 (Cage 1)", "tray-1 (Tray 1)", "bin-2 (Bin 2)"):
        assert place in text
    assert "12.4 g" in text and "4.2 kg" in text, "examples"
    assert text.count("<td>2026-09-23</td><td>cage-2</td>") == 1
    code, _, err = call("logbook", "sheet", str(sheet))
    assert code == 2 and "exists already" in " ".join(err.split())
    assert call("logbook", "sheet", str(tmp_path / "week.pdf"))[0] == 2


def test_a_sheet_is_printed_before_the_farm_has_a_database(
    farm: CohortFarm, call: Call, tmp_path: Path
) -> None:
    farm.database.unlink()
    code, _, err = call("logbook", "sheet", str(tmp_path / "week.html"))
    assert code == 0, err
    assert "2 kg at 70 %" in (tmp_path / "week.html").read_text(encoding="utf-8"), "how feed is written"


def test_residue_may_say_its_moisture(farm: CohortFarm, call: Call, tmp_path: Path) -> None:
    sheet = tmp_path / "week.csv"
    lines = ("18 Sep;bin-1;residue;1,8 kg at 45 %", "18 Sep 18:00;bin-1;residue;300 g")
    sheet.write_text("when;where;what;amount\n" + "\n".join(lines) + "\n", encoding="utf-8")
    code, _, err = call("cohort", "import", str(sheet))
    assert code == 0, err
    assert [(each.kg, each.moisture) for each in _takings(farm).residues] == [(1.8, 0.45), (0.3, None)]


def test_a_line_that_cannot_be_is_not_asked_about_too(call: Call, tmp_path: Path) -> None:
    """The bin holds 9000 larvae in 10 kg of feed: 4000 kg cannot be, however heavy each would be."""
    sheet = tmp_path / "week.csv"
    sheet.write_text("when;where;what;amount\n18 Sep;bin-1;harvest;4000 kg\n", encoding="utf-8")
    code, out, err = call("cohort", "import", str(sheet))
    assert code == 2 and (out + err).count("line 2") == 1 and "unlikely" not in out + err


def test_every_word_of_the_sheet_is_understood_in_every_language() -> None:
    spoken = spoken_words()
    assert set(spoken.values()) == set(WORDS)
    assert len(spoken) > len(WORDS) * (len(LANGUAGES) - 1)
