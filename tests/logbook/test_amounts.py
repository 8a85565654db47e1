"""Amounts, moistures and sizes as people write them; what is refused says what is allowed."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import UsageError
from monitor.logbook.amounts import (
    VALUES,
    Material,
    TwoReadings,
    parse_count,
    parse_days,
    parse_grams,
    parse_hatch,
    parse_hours,
    parse_kg,
    parse_length_m,
    parse_material,
    parse_number,
    parse_percent,
    parse_share,
    parse_surface_m2,
    parse_yes,
    read_value,
    read_values,
)


@pytest.mark.parametrize(
    ("text", "kg"),
    [
        ("1.5 l", 1.5),
        ("1,5 L", 1.5),
        ("800 g", 0.8),
        ("2kg", 2.0),
        (" 2 Kilos ", 2.0),
        ("300 ml", 0.3),
        ("1 litre", 1.0),
        ("3", 3.0),
        (".5 kg", 0.5),
    ],
)
def test_masses_and_litres(text: str, kg: float) -> None:
    assert parse_kg(text) == pytest.approx(kg)


@pytest.mark.parametrize(
    ("text", "number"),
    [("8 000", 8000), ("8\u00a0000", 8000), ("2,5", 2.5), ("-3", -3), ("1e3", 1000), (" 4. ", 4)],
)
def test_plain_numbers(text: str, number: float) -> None:
    assert parse_number(text) == number
    assert isinstance(parse_number(text), type(number)), "whole numbers are whole"


@pytest.mark.parametrize(
    ("text", "share"), [("70 %", 0.7), ("70%", 0.7), ("0.7", 0.7), ("70", 0.7), ("5,5 %", 0.055)]
)
def test_moistures(text: str, share: float) -> None:
    assert parse_share(text) == pytest.approx(share)


@pytest.mark.parametrize(
    ("text", "area_m2"),
    [
        ("60 x 40 cm", 0.24),
        ("60x40cm", 0.24),
        ("60 cm by 40 cm", 0.24),
        ("600 × 400 mm", 0.24),
        ("0.6*0.4 m", 0.24),
        ("0.24 m2", 0.24),
        ("0,24 m²", 0.24),
        ("2400 cm^2", 0.24),
        ("40 cm round", math.pi * 0.04),
        ("round 40cm", math.pi * 0.04),
    ],
)
def test_sizes(text: str, area_m2: float) -> None:
    assert parse_surface_m2(text) == pytest.approx(area_m2)


@pytest.mark.parametrize(("text", "metres"), [("8 cm", 0.08), ("80mm", 0.08), ("0.08 m", 0.08)])
def test_depths(text: str, metres: float) -> None:
    assert parse_length_m(text) == pytest.approx(metres)


@pytest.mark.parametrize(
    ("text", "material"),
    [
        ("3 kg at 12 %", Material(3.0, 0.12)),
        ("800g 12%", Material(0.8, 0.12)),
        ("3kg, 12 %", Material(3.0, 0.12)),
        ("7 l", Material(7.0, 1.0)),
        ("500 ml", Material(0.5, 1.0)),
        ("2 l at 90 %", Material(2.0, 0.9)),
    ],
)
def test_materials(text: str, material: Material) -> None:
    assert parse_material(text) == pytest.approx(material)


@pytest.mark.parametrize(
    ("parse", "text", "said"),
    [
        (parse_number, "many", "is no number"),
        (parse_number, "inf", "is no number"),
        (parse_number, "nan", "is no number"),
        (parse_number, "", "is no number"),
        (parse_kg, "800", "grams or kilograms"),
        (parse_kg, "2 stone", "allowed: 800 g, 2 kg"),
        (parse_kg, "", "is no amount"),
        (parse_kg, "0 g", "more than 0"),
        (parse_kg, "-2 kg", "is no amount"),
        (parse_kg, "nan kg", "is no amount"),
        (parse_share, "120 %", "between 0 and 100 %"),
        (parse_share, "1", "between 0 and 100 %"),
        (parse_share, "wet", "allowed: 70 % or 0.7"),
        (parse_surface_m2, "60", "is no size"),
        (parse_surface_m2, "60 x 40", "60 x 40 cm"),
        (parse_surface_m2, "60 x 40 m", "0.001 to 100 m2"),
        (parse_length_m, "8", "allowed: 8 cm"),
        (parse_length_m, "80 m", "up to 2 m"),
        (parse_material, "3 kg", "says no moisture"),
        (parse_material, "bran", "is not understood"),
        (parse_material, "3 stone at 12 %", "allowed: 800 g"),
        (parse_material, "3 kg at 100 %", "between 0 and 100 %"),
    ],
)
def test_what_cannot_be_is_refused_with_what_can(
    parse: Callable[[str], object], text: str, said: str
) -> None:
    with pytest.raises(UsageError, match=said.replace("(", r"\(")):
        parse(text)


TWO_WAYS = [
    ("10,000", "10000", "10"),
    ("1,500", "1500", "1.5"),
    ("2,500 ml", "2500", "2.5"),
    ("1,500 g", "1500", "1.5"),
    ("1.500", "1500", "1.5"),
    ("1.500 kg", "1500", "1.5"),
    ("999,250", "999250", "999.25"),
    ("-1,000", "1000", "1"),
]


@pytest.mark.parametrize(("text", "many", "few"), TWO_WAYS)
@pytest.mark.parametrize(
    "parse", [parse_number, parse_count, parse_kg, parse_grams, parse_percent, parse_days, parse_share]
)
def test_what_can_be_read_two_ways_is_refused_with_both(
    parse: Callable[[str], object], text: str, many: str, few: str
) -> None:
    with pytest.raises(TwoReadings) as refused:
        parse(text)
    figure = text.strip("-").split()[0]
    assert str(refused.value) == f"{figure}: {many} or {few}? write {many} or {few}"


@pytest.mark.parametrize(
    "text", ["1,500 x 400 mm", "2,500 mm", "1,500 g at 12 %", "3 kg at 12,500 %", "60 x 1.200 mm"]
)
def test_two_readings_are_refused_inside_sizes_and_materials_too(text: str) -> None:
    parse: Callable[[str], object] = parse_material if "%" in text else parse_surface_m2
    with pytest.raises(TwoReadings):
        (parse_length_m if text == "2,500 mm" else parse)(text)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("10 000", 10_000),
        ("10'000", 10_000),
        ("10’000", 10_000),
        ("10\u2009000", 10_000),
        ("10\u202f000", 10_000),
        ("1 234 567", 1_234_567),
        ("10 000,5", 10_000.5),
        ("10'000.500", 10_000.5),
        ("2,5", 2.5),
        ("2,50", 2.5),
        ("2,5000", 2.5),
        ("12,345,678", 12_345_678),
        ("12.345.678", 12_345_678),
        ("1,234.5", 1234.5),
        ("1.234,5", 1234.5),
        ("1.234,567", 1234.567),
        ("12,345,678.250", 12_345_678.25),
        ("0,500", 0.5),
        ("0.125", 0.125),
        ("1500,250", 1500.25),
    ],
)
def test_what_can_be_read_one_way_is_understood(text: str, number: float) -> None:
    assert parse_number(text) == pytest.approx(number)


@pytest.mark.parametrize("text", ["12,34,567", "1,5.3", "1.234.5", "0,123,456", "1'00", "10 00", "1,,5"])
def test_marks_that_make_no_sense_are_refused(text: str) -> None:
    with pytest.raises(UsageError, match="is no number"):
        parse_number(text)


@pytest.mark.parametrize(
    ("text", "kg"),
    [
        ("2 500 ml", 2.5),
        ("1500 g", 1.5),
        ("1'500 g", 1.5),
        ("2 t", 2000.0),
        ("250 mg", 0.00025),
        ("2,5 kg", 2.5),
    ],
)
def test_masses_in_every_unit(text: str, kg: float) -> None:
    assert parse_kg(text) == pytest.approx(kg)


@pytest.mark.parametrize(
    ("text", "unit", "kg"), [("1 500", "g", 1.5), ("400", "l", 400.0), ("2 kg", "g", 2.0)]
)
def test_a_bare_number_is_in_the_unit_that_its_field_names(text: str, unit: str, kg: float) -> None:
    assert parse_kg(text, unit) == pytest.approx(kg)


@pytest.mark.parametrize(
    ("parse", "text", "value"),
    [
        (parse_grams, "12,5", 12.5),
        (parse_grams, "1.5 kg", 1500),
        (parse_grams, "25 mg", 0.025),
        (parse_percent, "30 %", 30),
        (parse_percent, "12,5", 12.5),
        (parse_days, "5 days", 5),
        (parse_days, "2,5 d", 2.5),
        (parse_days, "3 jours", 3),
        (parse_hours, "36 h", 36),
        (parse_yes, "Yes", True),
        (parse_yes, "off", False),
    ],
)
def test_grams_shares_and_ages(parse: Callable[[str], object], text: str, value: object) -> None:
    assert parse(text) == value


@pytest.mark.parametrize("text", ["2.5", "-3", "many", ""])
def test_animals_are_whole(text: str) -> None:
    with pytest.raises(UsageError, match="is no"):
        parse_count(text)


def test_a_value_is_read_by_its_key() -> None:
    assert read_value("larvae", "10 000") == 10_000
    assert read_value("surface_m2", "60 x 40 cm") == 0.24
    assert read_value("place", "bin-1") == "bin-1"
    with pytest.raises(UsageError, match=r"back to kg: 1,500: 1500 or 1\.5"):
        read_value("back_to_kg", "1,500 g")
    with pytest.raises(UsageError, match="rough: 'perhaps' is neither yes nor no"):
        read_value("rough", "perhaps")


def test_a_note_stays_as_it_was_written_though_it_looks_like_a_number() -> None:
    assert read_values({"note": "2026", "into": "12"}) == {"note": "2026", "into": "12"}


def test_every_value_that_cannot_be_read_is_named_at_once() -> None:
    assert read_values({"animals": "3 000", "grams": " "}) == {"animals": 3000, "grams": None}
    with pytest.raises(UsageError) as refused:
        read_values({"animals": "10,000", "grams": "many", "percent": "30 %"})
    assert len(str(refused.value).splitlines()) == 2


@given(
    st.lists(
        st.sampled_from([*"0123456789.,' -e", "kg", "g", " ml", "%", " x ", "cm", "at"]), max_size=12
    ).map("".join)
)
def test_any_text_is_an_amount_or_is_refused(text: str) -> None:
    for key in VALUES:
        try:
            read_value(key, text)
        except UsageError:
            continue


@given(st.integers(0, 10**9), st.sampled_from([" ", "'", "’", "\u00a0", "\u202f", "\u2009"]))
def test_thousands_that_are_parted_are_understood(number: int, mark: str) -> None:
    assert parse_number(f"{number:,}".replace(",", mark)) == number


@given(st.integers(1, 999), st.integers(0, 999), st.sampled_from(",."))
def test_three_figures_after_one_mark_are_never_guessed(whole: int, rest: int, mark: str) -> None:
    with pytest.raises(TwoReadings):
        parse_number(f"{whole}{mark}{rest:03}")


@pytest.mark.parametrize("text", ["37 of 50", "37/50", " 37 out of 50", "37 sur 50"])
def test_hatch_of_a_counted_sample(text: str) -> None:
    assert parse_hatch(text) == {"percent": 74.0}


@pytest.mark.parametrize("text", ["51 of 50", "0 of 50", "0/0"])
def test_what_is_no_part_of_a_sample_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="no part of a sample"):
        parse_hatch(text)
