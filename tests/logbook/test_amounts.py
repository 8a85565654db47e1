"""Amounts, moistures and sizes as people write them; what is refused says what is allowed."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from monitor.errors import UsageError
from monitor.logbook.amounts import (
    Material,
    parse_kg,
    parse_length_m,
    parse_material,
    parse_number,
    parse_share,
    parse_surface_m2,
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
