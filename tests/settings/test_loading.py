"""Reading farm.toml: what is accepted, and the message that a person gets for every kind of mistake."""

from __future__ import annotations

import datetime
import tomllib
from pathlib import Path

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from settings_files import ENVIRONMENT, SMALL, only_problem, problems_of, write

from monitor.errors import SettingsError
from monitor.settings.loading import (
    SERVICE_USER,
    SYSTEM_FILE,
    find,
    load,
    read,
    reload,
    unit_settings,
    user_folder,
)
from monitor.settings.problems import keys_at


def test_a_correct_file_is_read_with_its_secret_from_the_environment(tmp_path: Path) -> None:
    farm = load(write(tmp_path, SMALL), ENVIRONMENT)

    assert farm.site.title == "Sand Hill"
    assert [place.id for place in farm.places] == ["room-1", "bin-1"]
    assert farm.recipients[0].address.get_secret_value() == ENVIRONMENT["OWNER_ADDRESS"]
    assert farm.report.time == datetime.time(6, 30)
    assert ENVIRONMENT["OWNER_ADDRESS"] not in repr(farm)


def test_relative_paths_start_at_the_folder_of_the_file(tmp_path: Path) -> None:
    text = SMALL + '[store]\npath = "data/readings.sqlite"\n'
    farm = load(write(tmp_path, text), ENVIRONMENT)

    assert farm.store.path == tmp_path / "data" / "readings.sqlite"


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path: Path) -> None:
    path = write(tmp_path, "")
    path.write_bytes(b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode())

    assert load(path, ENVIRONMENT).site.id == "sand-hill"


@pytest.mark.parametrize(
    ("old", "new", "line", "key", "found", "allowed", "remedy"),
    [
        (
            'kind = "room"',
            'kind = "rom"',
            8,
            'places[0].kind ("room-1")',
            '"rom"',
            '"hatching_tray"',
            '"room"',
        ),
        (
            'kind = "room"',
            'knd = "room"\nkind = "room"',
            8,
            "places[0].knd",
            "not a known key",
            "kind",
            "kind",
        ),
        ('id = "sand-hill"', 'id = "sand hill"', 2, "site.id", '"sand hill"', "letters, digits", "correct"),
        ('title = "Sand Hill"\n', "", 1, "site.title", "missing", "text", "title ="),
        (
            "[site]",
            "[site]\naltitude_m = 9000",
            2,
            "site.altitude_m",
            "9000",
            "-430 to 6000",
            "leave the key out",
        ),
        ("[site]", '[site]\naltitude_m = "900"', 2, "site.altitude_m", '"900"', "number", "without quotes"),
        ("[site]", "[site]\naltitude_m = nan", 2, "site.altitude_m", "nan", "number", "correct"),
        ('title = "Sand Hill"', "title = 7", 3, "site.title", "7", "text", "double quotes"),
        (
            "[site]",
            "[report]\nenabled = 1\n[site]",
            2,
            "report.enabled",
            "1",
            "true or false",
            "without quotes",
        ),
        ("[site]", "[report]\ntime = 630\n[site]", 2, "report.time", "630", '"06:30"', "double quotes"),
        ("[site]", '[report]\ntime = "25:00"\n[site]', 2, "report.time", '"25:00"', '"06:30"', "correct"),
        (
            "[site]",
            '[report]\ntime = "06:30Z"\n[site]',
            2,
            "report.time",
            '"06:30Z"',
            "local time",
            "correct",
        ),
        (
            "[site]",
            "[store]\nkeep_raw_days = 2.5\n[site]",
            2,
            "store.keep_raw_days",
            "2.5",
            "whole number",
            "out",
        ),
        ("[site]", "[broker]\nport = 70000\n[site]", 2, "broker.port", "70000", "1 to 65535", "correct"),
        (
            "[[recipients]]",
            '[[recipients]]\npriorities = "high"',
            26,
            "priorities",
            '"high"',
            "a list",
            "brackets",
        ),
    ],
)
def test_one_mistake_is_named_with_line_key_value_limits_and_remedy(
    tmp_path: Path, old: str, new: str, line: int, key: str, found: str, allowed: str, remedy: str
) -> None:
    problem = only_problem(tmp_path, SMALL.replace(old, new, 1))

    assert problem.line == line
    assert key in problem.key
    assert found in problem.found
    assert allowed in problem.allowed
    assert remedy in problem.remedy


def test_double_and_single_brackets_are_told_apart(tmp_path: Path) -> None:
    nodes = '[nodes]\nid = "node-01"\n[[recipients]]' + SMALL.partition("[[recipients]]")[2]
    text = SMALL.partition("[[nodes]]")[0] + nodes

    assert only_problem(tmp_path, text).remedy == "write: [[nodes]]"
    site = problems_of(write(tmp_path, SMALL.replace("[site]", "[[site]]")))[0]
    assert "[site] with single brackets" in site.remedy


def test_every_problem_is_reported_at_once_in_the_order_of_the_file(tmp_path: Path) -> None:
    text = (
        SMALL.replace("Africa/Gaborone", "Gaborone")
        .replace('kind = "grow_out_bin"', 'kind = "grow_out_bin"\nresponse_minutes = 0')
        .replace('place = "bin-1"', 'place = "bin-1"\ninterval_s = -1')
        .replace('id = "owner"', 'id = "owner"\norder = 0')
    )
    problems = problems_of(write(tmp_path, text), {})

    keys = [problem.key.partition(" ")[0] for problem in problems]
    assert keys == [
        "site.time_zone",
        "places[1].response_minutes",
        "nodes[1].interval_s",
        "recipients[0].order",
        "recipients[0].address_env",
    ]
    assert [problem.line for problem in problems] == sorted(problem.line or 0 for problem in problems)


def test_a_wrong_place_causes_no_further_problem_about_what_names_it(tmp_path: Path) -> None:
    problem = only_problem(tmp_path, SMALL.replace('id = "bin-1"', 'id = "bin 1"'))

    assert problem.key == 'places[1].id ("bin 1")'


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ('[site]\nid = "a\n', 2),
        ("[site]\nid = sand\n", 2),
        ("[site\nid = 1\n", 1),
        ('[site]\nid = "a"\nid = "b"\n', 3),
        ('[site]\nid = """a', 2),
        ("[site]\n= 5\n", 2),
    ],
)
def test_what_is_not_toml_is_reported_with_its_line_and_the_rest_is_read_on(
    tmp_path: Path, text: str, line: int
) -> None:
    problems = problems_of(write(tmp_path, text))

    (slip,) = (problem for problem in problems if problem.line == line and problem.found != "missing")
    assert text.splitlines()[line - 1] in slip.found or "given twice" in slip.found
    assert "site.title" in {problem.key for problem in problems}


def test_a_missing_file_names_init_and_demo(tmp_path: Path) -> None:
    text = str(problems_of(tmp_path / "farm.toml")[0])

    assert "rearing-monitor init" in text
    assert "rearing-monitor demo" in text
    assert "--config" in text


def test_a_file_that_is_not_text_is_reported(tmp_path: Path) -> None:
    path = write(tmp_path, "")
    path.write_bytes(b"\x00\x81\xfe\x00\x01")

    assert "not UTF-8 text" in problems_of(path)[0].found


def test_the_search_takes_the_given_file_then_this_folder_then_the_users(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    environ = {"XDG_CONFIG_HOME": str(tmp_path / "settings"), "HOME": str(tmp_path)}
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    own = user_folder(environ)
    own.mkdir(parents=True)
    with pytest.raises(SettingsError):
        find(None, environ)
    assert find(write(own, SMALL)) == own / "farm.toml"
    assert find(None, environ) == own / "farm.toml"
    write(Path(), SMALL)
    assert find(None, environ) == Path("farm.toml")


@pytest.mark.parametrize(
    ("start", "path"),
    [
        ("ExecStart=/opt/x/bin/rearing-monitor run --config /srv/farm/farm.toml", "/srv/farm/farm.toml"),
        ('ExecStart=/opt/x/bin/rearing-monitor run -c "/srv/farm.toml"', "/srv/farm.toml"),
        ("ExecStart=/opt/x/bin/rearing-monitor run --config=/srv/a.toml --x", "/srv/a.toml"),
        ("ExecStart=/opt/x/bin/rearing-monitor run", "/etc/rearing-monitor/farm.toml"),
    ],
)
def test_the_settings_of_the_service_stand_in_its_unit(tmp_path: Path, start: str, path: str) -> None:
    unit = tmp_path / "rearing-monitor.service"
    unit.write_text(f"[Service]\n{start}\nUser=rearing\n")
    assert unit_settings((tmp_path / "none.service", unit)) == Path(path)


def test_our_own_unit_is_understood() -> None:
    unit = Path(__file__).parents[2] / "config" / "rearing-monitor.service"
    assert unit_settings((unit,)) == SYSTEM_FILE
    assert f"User={SERVICE_USER}" in unit.read_text()


def test_without_a_file_here_that_of_the_service_is_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "etc").mkdir()
    path = write(tmp_path / "etc", SMALL)
    monkeypatch.setattr("monitor.settings.loading.unit_settings", lambda: path)
    assert find(None, {"HOME": str(tmp_path)}) == path


def test_a_file_that_only_the_service_may_read_says_how_to_run_the_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write(tmp_path, SMALL)

    def refuse(_path: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", refuse)
    monkeypatch.setattr(Path, "owner", lambda _path: "rearing")
    (problem,) = problems_of(path)
    assert problem.remedy == "run it as that user, such as: sudo -u rearing rearing-monitor now"
    monkeypatch.setattr(Path, "is_file", refuse)
    with pytest.raises(SettingsError, match="sudo -u rearing rearing-monitor now"):
        find(path)


def test_without_xdg_the_users_folder_is_in_the_home_folder() -> None:
    assert user_folder({"HOME": "/home/me"}) == Path("/home/me/.config/rearing-monitor")


def test_reload_takes_correct_settings_and_keeps_the_old_ones_otherwise(tmp_path: Path) -> None:
    path = write(tmp_path, SMALL)
    old = load(path, ENVIRONMENT)
    write(tmp_path, SMALL.replace("Sand Hill", "Red Hill"))
    new, problems = reload(path, old, ENVIRONMENT)
    assert (new.site.title, problems) == ("Red Hill", ())

    write(tmp_path, SMALL.replace("Africa/Gaborone", "Moon"))
    kept, problems = reload(path, new, ENVIRONMENT)
    assert kept is new
    assert [problem.key for problem in problems] == ["site.time_zone"]


def test_a_file_without_problems_can_still_carry_a_warning_about_its_secret(tmp_path: Path) -> None:
    path = write(
        tmp_path, SMALL.replace('address_env = "OWNER_ADDRESS"', 'address = "mailtos://a:b@mail.example"')
    )
    assert read(path, {}).warnings == ()

    path.chmod(0o644)
    (warning,) = (str(said) for said in read(path, {}).warnings)
    assert "address_env" in warning
    assert "mailtos" not in warning


SCALARS = (
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5) | st.dates() | st.times()
)
ANYTHING = st.recursive(
    SCALARS.filter(lambda value: value is not None),
    lambda inner: (
        st.lists(inner, max_size=2)
        | st.dictionaries(st.sampled_from(["id", "start", "x"]), inner, max_size=2)
    ),
    max_leaves=4,
)
KEYS = [(table, name) for table in keys_at(()) for name in (*keys_at((table,)), *keys_at((table, 0)), "")]


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.sampled_from(KEYS), ANYTHING), min_size=1, max_size=3))
def test_whatever_stands_in_the_file_ends_in_settings_or_in_problems(
    tmp_path: Path, edits: list[tuple[tuple[str, str], object]]
) -> None:
    tables = tomllib.loads(SMALL)
    for (table, name), value in edits:
        holder = tables.setdefault(table, {})
        holder = holder[0] if isinstance(holder, list) and holder else holder
        if name and isinstance(holder, dict):
            holder[name] = value
        else:
            tables[table] = value
    try:
        read(write(tmp_path, tomlkit.dumps(tables)), ENVIRONMENT)
    except SettingsError as error:
        assert error.problems
        assert all(problem.found and problem.allowed and problem.remedy for problem in error.problems)
