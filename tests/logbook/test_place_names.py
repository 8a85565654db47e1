"""Places as people write them."""

from __future__ import annotations

import pytest

from monitor.errors import UsageError
from monitor.logbook.amounts import find_place

TITLES = {
    "bin-1": "Grow-out bin 1",
    "bin-4": "Bin 4",
    "bin-14": "Bin 14",
    "tray-1": "Hatching tray",
    "tray-2": "Hatching tray",
    "shed": "Séchoir",
}


@pytest.mark.parametrize(
    ("written", "place"),
    [
        ("bin-4", "bin-4"),
        ("Bin 4", "bin-4"),
        ("bin4", "bin-4"),
        ("BIN-4", "bin-4"),
        (" bin_4 ", "bin-4"),
        ("Bin\u00a04", "bin-4"),
        ("grow out bin 1", "bin-1"),
        ("GROW-OUT BIN 1", "bin-1"),
        ("bin 14", "bin-14"),
        ("séchoir", "shed"),
        ("se\u0301choir", "shed"),
        ("tray-2", "tray-2"),
    ],
)
def test_a_place_is_known_by_id_or_title(written: str, place: str) -> None:
    assert find_place(written, TITLES) == place


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("hatching tray", r"several places; write one of: tray-1 \(Hatching tray\), tray-2 \(Hatching"),
        ("bin-44", 'do you mean "bin-14"|do you mean "bin-4"'),
        ("grow bin 1", 'do you mean "bin-1"'),
        ("moon", "is no place in the settings; known: bin-1, bin-4"),
        ("", "is no place in the settings"),
    ],
)
def test_what_is_no_place_is_refused_with_what_can_be_meant(written: str, said: str) -> None:
    with pytest.raises(UsageError, match=said):
        find_place(written, TITLES)


def test_an_id_stands_before_the_title_of_another() -> None:
    assert find_place("bin-1", {"bin-1": "Bin 2", "bin-2": "bin-1"}) == "bin-1"
