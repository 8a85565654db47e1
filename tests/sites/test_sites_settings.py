"""`sites.toml`: every problem at once, secrets outside of it, rights by site."""

from __future__ import annotations

from pathlib import Path

import pytest
from many_sites import settings_of, write_settings

from monitor.errors import SettingsError
from monitor.sites.settings import Person, Right, find, read

PEOPLE = """
[[people]]
id = "amina"
sites = { "*" = "full", "north-*" = "care", "north-9" = "none" }
password_file = "amina.password"
"""


def problems_of(path: Path) -> list[str]:
    with pytest.raises(SettingsError) as refused:
        read(path, {})
    return [str(problem) for problem in refused.value.problems]


def test_every_problem_is_told_at_once_with_its_remedy(tmp_path: Path) -> None:
    more = """
[group]
time_zone = "Africa/Gaberone"
[watch]
silent_minuts = 5
[[sites]]
id = "a"
[[sites]]
id = "a"
[[people]]
id = "amina"
sites = { "*" = "ful" }
password_env = "NOT_SET"
[[people]]
id = "ben"
"""
    told = problems_of(write_settings(tmp_path, "http://127.0.0.1:9", more))
    wanted = (
        'write "Africa/Gaborone"',
        'write "silent_minutes"',
        'sites[1].id ("a") is "a"; allowed: a name that no other has',
        'write "full"',
        "no such environment variable",
        'people[1].sites ("ben") is no site',
        'people[1].password ("ben") is missing, and so is address',
    )
    for text in wanted:
        assert sum(text in problem for problem in told) == 1, (text, told)
    assert len(told) == len(wanted), told


def test_a_secret_comes_from_a_file_that_its_owner_alone_may_read(tmp_path: Path) -> None:
    path = write_settings(tmp_path, "http://127.0.0.1:9", PEOPLE)
    secret = tmp_path / "amina.password"
    secret.write_text("four plain words here\n", encoding="utf-8")
    secret.chmod(0o644)
    assert any("which others may read" in problem for problem in problems_of(path))
    secret.chmod(0o600)
    person = read(path, {}).settings.person("amina")
    assert person is not None and person.password is not None
    assert person.password.get_secret_value() == "four plain words here"
    assert "four plain" not in repr(read(path, {}))


@pytest.mark.parametrize(
    ("site", "right"),
    [
        ("south-1", Right.FULL),
        ("north-1", Right.CARE),
        ("north-9", Right.NONE),
        ("north-90", Right.CARE),
        ("NORTH-1", Right.FULL),
    ],
)
def test_a_name_goes_before_a_pattern_and_a_long_pattern_before_a_short_one(site: str, right: Right) -> None:
    person = Person(id="amina", sites={"*": Right.FULL, "north-*": Right.CARE, "north-9": Right.NONE})
    assert person.right(site) is right


def test_who_has_no_right_to_a_site_knows_nothing_of_it() -> None:
    assert Person(id="amina", sites={"a": Right.FULL}).right("b") is Right.NONE


def test_a_site_has_its_own_limit_of_silence() -> None:
    settings = settings_of(watch={"silent_minutes": 20.0}, sites=[{"id": "far", "silent_minutes": 600.0}])
    assert settings.silent_after_ms("far") == 600 * 60_000
    assert settings.silent_after_ms("near") == 20 * 60_000


def test_without_a_file_it_is_said_where_one_was_looked_for_and_how_to_get_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SettingsError, match=r"sites init") as refused:
        find(None, {"HOME": str(tmp_path)})
    assert "sites.toml" in str(refused.value)
    named = write_settings(tmp_path, "http://127.0.0.1:9")
    assert find(None, {"REARING_SITES": str(named)}) == named
    assert find(None, {"HOME": "/nowhere"}).name == "sites.toml"


def test_what_is_kept_lies_beside_the_file(tmp_path: Path) -> None:
    file = read(write_settings(tmp_path, "http://127.0.0.1:9", '[group]\nfolder = "kept"\n'), {})
    assert file.folder == tmp_path / "kept"


def test_a_secret_in_a_file_that_others_may_read_is_warned_of(tmp_path: Path) -> None:
    more = '[[people]]\nid = "amina"\nsites = { "*" = "full" }\npassword = "four plain words"\n'
    path = write_settings(tmp_path, "http://127.0.0.1:9", more)
    assert read(path, {}).warnings == ()
    path.chmod(0o644)
    (warning,) = read(path, {}).warnings
    assert "chmod 600" in warning.text and "four plain" not in warning.text
