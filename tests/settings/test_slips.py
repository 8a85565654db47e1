"""Slips of the pen in the settings file: each is named with its line and the right line, all at once."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from settings_files import ENVIRONMENT, SMALL, EnglishProblem, only_problem, problems_of, write

from monitor.settings.loading import read
from monitor.settings.slips import mended

SITE = '[site]\nid = "sand-hill"\n'


def slip(line: str, folder: Path) -> EnglishProblem:
    """The one problem of a file that is right but for this line, the fourth."""
    text = SMALL.replace('time_zone = "Africa/Gaborone"', f'time_zone = "Africa/Gaborone"\n{line}', 1)
    problem = only_problem(folder, text)
    assert problem.line == 5 + line.count("\n")
    return problem


@pytest.mark.parametrize(
    ("line", "key", "right"),
    [
        ("species = “black_soldier_fly”", "species", 'species = "black_soldier_fly"'),
        ("species = „black_soldier_fly“", "species", 'species = "black_soldier_fly"'),
        ("species = ‘black_soldier_fly’", "species", 'species = "black_soldier_fly"'),
        ("altitude_m = 0,5", "altitude_m", "altitude_m = 0.5"),
        ("altitude_m = 1,100", "altitude_m", "altitude_m = 1100"),
        ("altitude_m = 1 100", "altitude_m", "altitude_m = 1100"),
        ("altitude_m = 1000 m", "altitude_m", "altitude_m = 1000"),
        ("altitude_m = .5", "altitude_m", "altitude_m = 0.5"),
        ('species = "black_soldier_fly', "species", 'species = "black_soldier_fly"'),
        ('species = black_soldier_fly"', "species", 'species = "black_soldier_fly"'),
        ("species = 'black_soldier_fly\"", "species", 'species = "black_soldier_fly"'),
        ("species = black_soldier_fly", "species", 'species = "black_soldier_fly"'),
        ("species = black_soldier_fly  # ours", "species", 'species = "black_soldier_fly"'),
        ('species "black_soldier_fly"', "the line", 'species = "black_soldier_fly"'),
        ('species: "black_soldier_fly"', "species", 'species = "black_soldier_fly"'),
        ("species: black_soldier_fly", "species", 'species = "black_soldier_fly"'),
        ('language = "en" or fr', "language", 'language = "en"  # or fr'),
        ("the farm on the hill", "the line", "# the farm on the hill"),
        ("altitude_m\u00a0=\u00a05", "altitude_m", "altitude_m = 5"),
    ],
)
def test_a_slip_is_named_with_its_line_and_the_right_line(
    tmp_path: Path, line: str, key: str, right: str
) -> None:
    problem = slip(line, tmp_path)
    assert problem.key == key
    assert problem.remedy == f"write: {right}"
    assert line.split("#")[0].strip() in problem.found


@pytest.mark.parametrize(
    ("table", "line", "right"),
    [
        ("broker", "embedded = False", "embedded = false"),
        ("broker", "embedded = True", "embedded = true"),
        ("broker", "embedded = yes", "embedded = true"),
        ("broker", "embedded = non", "embedded = false"),
        ("broker", "embedded = false # off", ""),
        ("report", "time = 06:30", 'time = "06:30"'),
        ("report", "time = 6:30", 'time = "06:30"'),
        ("messages", "remind_after_minutes = 60min", "remind_after_minutes = 60"),
    ],
)
def test_truths_and_times(tmp_path: Path, table: str, line: str, right: str) -> None:
    path = write(tmp_path, f"[{table}]\n{line}\n{SMALL}")
    if not right:
        assert read(path, ENVIRONMENT).settings.broker.embedded is False
        return
    (problem,) = problems_of(path)
    assert (problem.line, problem.remedy) == (2, f"write: {right}")


@pytest.mark.parametrize(
    ("line", "right"),
    [
        (
            'measures = ["air_temperature", "air_humidity]',
            'measures = ["air_temperature", "air_humidity"]',
        ),
        (
            'measures = ["air_temperature", "air_humidity"',
            'measures = ["air_temperature", "air_humidity"]',
        ),
        (
            'measures = ["air_temperature" "air_humidity"]',
            'measures = ["air_temperature", "air_humidity"]',
        ),
        ("measures = [air_temperature, air_humidity]", 'measures = ["air_temperature", "air_humidity"]'),
        ('measures = "air_temperature", "air_humidity"', 'measures = ["air_temperature", "air_humidity"]'),
        ("measures = [“air_temperature”, “air_humidity”]", 'measures = ["air_temperature", "air_humidity"]'),
    ],
)
def test_lists(tmp_path: Path, line: str, right: str) -> None:
    text = SMALL.replace('measures = ["air_temperature", "air_humidity"]', line)
    assert only_problem(tmp_path, text).remedy == f"write: {right}"


def test_lists_over_several_lines(tmp_path: Path) -> None:
    whole = 'measures = [\n  "air_temperature",\n  "air_humidity",\n]'
    good = SMALL.replace('measures = ["air_temperature", "air_humidity"]', whole)
    assert read(write(tmp_path, good), ENVIRONMENT).settings.nodes[0].measures[1] == "air_humidity"
    begun = SMALL.index("measures")
    number = SMALL[:begun].count("\n") + 1
    unclosed = only_problem(tmp_path, good.replace("\n]", "", 1))
    assert (unclosed.line, unclosed.remedy) == (number + 2, 'write: "air_humidity",]')
    unquoted = only_problem(tmp_path, good.replace('"air_humidity"', '"air_humidity'))
    assert (unquoted.line, unquoted.remedy) == (number + 2, 'write: "air_humidity",')


def test_one_bracket_in_place_of_two(tmp_path: Path) -> None:
    problems = problems_of(write(tmp_path, SMALL.replace("[[places]]", "[places]")))
    assert [problem.remedy for problem in problems] == ["write: [[places]]"] * 2
    assert [problem.line for problem in problems] == [6, 10]
    assert only_problem(tmp_path, SMALL.replace("[[recipients]]", "[[recipients]")).remedy == (
        "write: [[recipients]]"
    )
    assert only_problem(tmp_path, SMALL.replace("[site]", "[site")).remedy == "write: [site]"


def test_what_is_given_twice(tmp_path: Path) -> None:
    key = only_problem(tmp_path, SMALL.replace('title = "Sand Hill"', 'title = "Sand Hill"\ntitle = "Hill"'))
    assert (key.line, key.key, key.found) == (4, "title", "given twice: in line 3 already")
    table = only_problem(tmp_path, f"{SMALL}\n[site]\naltitude_m = 3\n")
    assert (table.line, table.key, table.found) == (29, "[site]", "given twice: in line 1 already")
    assert table.remedy == "put its keys under the first"


def test_every_slip_and_every_other_problem_at_once(tmp_path: Path) -> None:
    text = (
        SMALL.replace('title = "Sand Hill"', "title = “Sand Hill”")
        .replace('"Africa/Gaborone"', '"Gaborone"\nmy own farm')
        .replace("[[places]]", "[places]")
        .replace('kind = "grow_out_bin"', 'kind = "grow_bin"\nempty = False\nresponse_minutes = 2,5')
        .replace('id = "node-02"', 'id = "node-02')
        .replace('place = "bin-1"', 'place = "bin-1"\ninterval_s = -1')
    )
    problems = problems_of(write(tmp_path, text))
    lines = text.splitlines()
    found = {problem.line: problem for problem in problems}
    expected = [
        "title =",
        "time_zone",
        "my own farm",
        "[places]",
        "grow_bin",
        "False",
        "2,5",
        '"node-02',
        "= -1",
    ]
    for part in expected:
        assert any(part in lines[line - 1] for line in found if line), part
    assert len(problems) == len(expected) + 1, "both [places], and nothing that only follows from a slip"
    assert [problem.line for problem in problems] == sorted(problem.line or 0 for problem in problems)


def test_a_slip_in_a_secret_does_not_show_it(tmp_path: Path) -> None:
    text = SMALL + "\n[page]\npassword = “geheim wort”\nenabled = true\n"
    problem = only_problem(tmp_path, text)
    assert "geheim" not in str(problem)
    assert "password" in str(problem)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le"])
def test_a_file_saved_in_another_way_is_read_on(tmp_path: Path, encoding: str) -> None:
    path = write(tmp_path, "")
    text = SMALL.replace("Africa/Gaborone", "Gaborone")
    path.write_bytes((b"\xff\xfe" if encoding == "utf-16-le" else b"") + text.encode(encoding))
    first, second = problems_of(path)
    assert first.found == "saved as UTF-16, not as UTF-8 text"
    assert second.key == "site.time_zone"


def test_a_letter_that_is_not_utf_8_is_named_with_its_line(tmp_path: Path) -> None:
    path = write(tmp_path, "")
    path.write_bytes(SMALL.replace("Sand Hill", "Höhe").encode("cp1252"))
    (problem,) = problems_of(path)
    assert problem.found == "not UTF-8 text: a letter in line 3 is saved in another way"


def test_tabs_windows_lines_and_a_mark_at_the_beginning_do_no_harm(tmp_path: Path) -> None:
    path = write(tmp_path, "")
    path.write_bytes(b"\xef\xbb\xbf" + SMALL.replace(" = ", "\t=\t").replace("\n", "\r\n").encode())
    assert read(path, ENVIRONMENT).settings.site.title == "Sand Hill"


def test_apostrophes_and_quotes_inside_a_text_stay(tmp_path: Path) -> None:
    path = write(tmp_path, SMALL.replace('"Sand Hill"', '"Keeper’s “hill” [False, 0,5]"'))
    assert read(path, ENVIRONMENT).settings.site.title == "Keeper’s “hill” [False, 0,5]"


@given(st.lists(st.text("ab=[]{}\"'#,.: “”\n\t0\\", max_size=12), max_size=8))
def test_whatever_stands_there_it_ends_with_tables_or_with_slips(lines: list[str]) -> None:
    _, tables, slips = mended("\n".join(lines))
    assert tables is not None or slips
