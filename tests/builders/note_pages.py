"""The pages of `firmware_notes/` as a test reads them: sentences, tables, commands."""

from __future__ import annotations

import re
from pathlib import Path

NOTES = Path(__file__).parents[2] / "firmware_notes"

FIVE_VOLTS = re.compile(r"(?<![\d.,])(?:5(?:\.0)?\s?(?:V|volts?)\b|VBUS\b|VIN\b)")
THREE_VOLTS = re.compile(r"\b3[.,]3\s?V\b")
PULL_UP = re.compile(
    r"\bpull(?:s|ed)?[- ]?ups?\b|\bkΩ\b[^.]{0,40}\bto (?:the )?(?:supply|VCC|VDD)\b", re.IGNORECASE
)
SENTENCE_END = re.compile(r"(?<=[\w)\]*][.!?])\s+|(?<=[.!?]\*)\s+")
FORBIDS = re.compile(r"\b(?:never|not|no|nothing|without)\b", re.IGNORECASE)
PIN = re.compile(r"\b(?:GPIO|ADC|pins? (?:of|on) the (?:board|chip)|an? (?:ADC )?pin)\b")
CELL = re.compile(
    r"\b(?:cell|battery)\b[^.]*\b(?:to|on|onto|at|into)\b[^.]*\b(?:GPIO|ADC|pin)\b", re.IGNORECASE
)
DIVIDED = re.compile(r"\b(?:halves?|halved|divid\w+|resistors|USB)\b", re.IGNORECASE)
VOLTS = re.compile(r"(?<![\d.,])(\d+(?:\.\d+)?)\s?V\b")
MOST_ON_A_PIN_V = 3.6
"""Espressif, ESP32-WROOM-32E data sheet 1.2: supply 3.3 V, a pin at most 0.3 V above it."""


def pages() -> list[Path]:
    """Every page, those in folders included."""
    return sorted(NOTES.rglob("*.md"))


def sentences(text: str) -> list[str]:
    """Sentences, lines of lists and rows of tables, each on one line, without the code blocks."""
    text = re.sub(r"```.*?```", "", text, flags=re.DOTALL)
    blocks = re.split(r"\n\s*\n|\n(?=\s*(?:[-|*>#]|\d+\.\s))", text)
    lines = [" ".join(block.split()) for block in blocks]
    return [each for line in lines for each in SENTENCE_END.split(line) if each.strip()]


def dangerous_sentences(text: str) -> list[str]:
    """Sentences that let 5 V, "the supply", or a cell without its divider onto a pin.

    A sentence about a pull-up names 3.3 V, and names 5 V or "supply" as its end only to forbid it; any other
    sentence with 5 V forbids it, or says that it means the board's own USB supply.
    """
    return [each for each in sentences(text) if _dangerous(each)]


def _dangerous(sentence: str) -> bool:
    if PIN.search(sentence) and (CELL.search(sentence) or _too_much(sentence)):
        return not (FORBIDS.search(sentence) or DIVIDED.search(sentence))
    if PULL_UP.search(sentence):
        return not THREE_VOLTS.search(sentence) or _allows_five(sentence)
    return _allows_five(sentence)


def _too_much(sentence: str) -> bool:
    return any(float(volts) > MOST_ON_A_PIN_V for volts in VOLTS.findall(sentence))


def _allows_five(sentence: str) -> bool:
    return any(
        not FORBIDS.search(part) and "USB" not in part
        for part in re.split(r"[,;:]\s", sentence)
        if FIVE_VOLTS.search(part)
    )


def links(page: Path) -> list[str]:
    """Where a page points to in this folder, in its order; addresses of the web are left out."""
    text = re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    return [each for each in re.findall(r"\]\(([^)\s]+)\)", text) if "://" not in each]


def headings(page: Path) -> set[str]:
    """The anchors of a page, as the usual viewers make them of its headings."""
    found = re.findall(r"^#+ (.+)$", page.read_text(encoding="utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in found}


def commands(text: str) -> set[str]:
    """What a page has people type after `rearing-monitor`: a command, or a group and its command."""
    found = re.findall(r"rearing-monitor ([a-z][a-z-]*)(?: ([a-z][a-z-]*)(?=[ `\n]))?", text)
    return {f"{first} {second}" if first in GROUPS and second else first for first, second in found}


def command_lines(text: str) -> list[str]:
    """What stands after `rearing-monitor`, to the end of the line of code."""
    return [
        " ".join(each.split())
        for each in re.findall(r"rearing-monitor ([a-z][^`\n]*(?:\n[^`\n]+(?=`))?)", text)
    ]


GROUPS = ("board", "broker", "bin", "cohort", "place", "logbook")
