"""What changed between two settings, as a person reads it in the log after a reload."""

from __future__ import annotations

from pathlib import Path

import pytest
from settings_files import ENVIRONMENT, SMALL, write

from monitor.settings.loading import changes, load


def changed(folder: Path, old: str, new: str, environ: dict[str, str] | None = None) -> list[str]:
    before = load(write(folder, SMALL), ENVIRONMENT)
    after = load(write(folder, SMALL.replace(old, new, 1)), environ or ENVIRONMENT)
    return changes(before, after)


def test_the_same_settings_have_no_changes(tmp_path: Path) -> None:
    assert changed(tmp_path, "x", "x") == []


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("Sand Hill", "Red Hill", "site.title is now Red Hill (was Sand Hill)"),
        ("[[places]]", '[report]\ntime = "05:45"\n[[places]]', "report.time is now 05:45 (was 06:30)"),
        ('"grow_out_bin"', '"grow_out_bin"\nempty = true', "places: bin-1.empty is now true (was false)"),
        ('"node-02"\n', '"node-02"\ninterval_s = 30\n', "nodes: node-02.interval_s is now 30 (was 60)"),
        (
            '"node-02"\n',
            '"node-02"\nprobes = { p = "room-1" }\n',
            "nodes: node-02.probes is now p in room-1 (was not set)",
        ),
        (
            'id = "owner"',
            'id = "owner"\npriorities = ["high"]',
            "recipients: owner.priorities is now high (was high, medium)",
        ),
        (
            'id = "owner"',
            'id = "owner"\nquiet_hours = { start = "21:00", end = "05:00" }',
            "recipients: owner.quiet_hours is now 21:00 to 05:00 (was not set)",
        ),
        ("[[places]]", '[archive]\nurl = "http://a"\nbucket = "b"\n[[places]]', "[archive] added"),
        ("[[places]]", '[broker]\nusername = "u"\npassword = "topsecret"\n[[places]]', "broker.password set"),
        (
            "[[places]]",
            '[[rules]]\nplace = "bin-1"\nquantity = "substrate_temperature"\nside = "high"\nsetpoint = 37\n'
            "[[places]]",
            "rules: bin-1 substrate_temperature high medium added",
        ),
    ],
)
def test_a_change_is_one_sentence(tmp_path: Path, old: str, new: str, expected: str) -> None:
    found = changed(tmp_path, old, new)

    assert expected in found
    assert "topsecret" not in " ".join(found)


def test_added_and_removed_entries_are_named(tmp_path: Path) -> None:
    more = '[[places]]\nid = "box-1"\nkind = "pupation_box"\n[[places]]'

    assert changed(tmp_path, "[[places]]", more) == ["places: box-1 added"]
    assert changes(
        load(write(tmp_path, SMALL.replace("[[places]]", more, 1)), ENVIRONMENT),
        load(write(tmp_path, SMALL), ENVIRONMENT),
    ) == ["places: box-1 removed"]


def test_a_new_address_is_named_and_not_shown(tmp_path: Path) -> None:
    found = changed(tmp_path, "x", "x", {"OWNER_ADDRESS": "tgram://topsecret"})

    assert found == ["recipients: owner.address changed"]
