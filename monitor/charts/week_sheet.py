"""The sheet of a week, to be printed and written on, or to be filled in with a spreadsheet."""

from __future__ import annotations

import csv
import html
import io
from collections.abc import Sequence
from datetime import date, timedelta

from monitor.logbook.sheet import DAYS_OF_A_WEEK, HEADINGS, LINES, USES, week_lines
from monitor.words.entries import sheet_words
from monitor.words.localizer import Localizer

IMPORT = "rearing-monitor cohort import FILE --try"
EMPTY_LINES = 16
"""Lines for all that is not collected daily. Choice: with two cages the sheet fills one page."""
_STYLE = """
@page { size: A4; margin: 10mm }
body { font: 10pt sans-serif; color: #000; background: #fff }
h1 { font-size: 14pt; margin: 0 0 2mm }
p { margin: 1mm 0 }
table { border-collapse: collapse; width: 100%; margin-top: 3mm }
th, td { border: 0.3mm solid #555; padding: 0.5mm 1.5mm; text-align: left; height: 5mm }
th { background: #eee }
tr { break-inside: avoid }
.example td { font-style: italic; color: #444 }
.note { width: 24% }
.example td, td:first-child { white-space: nowrap }
"""


def week_csv(first: date, cages: Sequence[str], words: Localizer) -> str:
    """The sheet of the week that begins on a day as CSV, its amounts left open."""
    said, stream = sheet_words(words), io.StringIO()
    writer = csv.writer(stream, delimiter=";", lineterminator="\r\n")
    writer.writerow(said[name] for name in HEADINGS)
    for day, cage, what in week_lines(first, cages):
        writer.writerow((day.isoformat(), cage, said[what], *[""] * (len(HEADINGS) - 3)))
    return stream.getvalue()


def week_html(
    title: str, first: date, cages: Sequence[str], places: Sequence[tuple[str, str]], words: Localizer
) -> str:
    """The sheet of a week as a page for A4; `places` are the farm's own, each with id and title."""
    said = sheet_words(words)
    last = first + timedelta(days=DAYS_OF_A_WEEK - 1)
    heading = words.t("sheet.title", farm=title, first=first.isoformat(), last=last.isoformat())
    listed = ", ".join(name if name == shown else f"{name} ({shown})" for name, shown in places)
    lines = [
        f'<!doctype html><html lang="{words.language}"><head><meta charset="utf-8">',
        f"<title>{_text(heading)}</title><style>{_STYLE}</style></head><body>",
        f"<h1>{_text(heading)}</h1>",
        f"<p>{_text(words.t('sheet.explain_where', where=said['where'], places=listed))}</p>",
        f"<p>{_text(_what(words))}</p>",
        f"<p>{_text(words.t('sheet.explain_use', use=said['use'], uses=_uses(words), to=said['to']))}</p>",
        "<table><thead><tr>",
        *(f'<th scope="col"{_class(name)}>{_text(said[name])}</th>' for name in HEADINGS),
        "</tr></thead><tbody>",
        *(_row(example, "example") for example in _examples(first, cages, places, words)),
        *(
            _row((day.isoformat(), cage, said[what], *[""] * (len(HEADINGS) - 3)))
            for day, cage, what in week_lines(first, cages)
        ),
        *(_row([""] * len(HEADINGS)) for _ in range(EMPTY_LINES)),
        "</tbody></table>",
        f"<p>{_text(words.t('sheet.explain_import', command=IMPORT))}</p>",
        "</body></html>",
    ]
    return "\n".join(lines) + "\n"


def _what(words: Localizer) -> str:
    said = sheet_words(words)
    listed = words.listing([said[name] for name in LINES])
    return words.t("sheet.explain_what", what=said["what"], words=listed)


def _uses(words: Localizer) -> str:
    said = sheet_words(words)
    return words.listing([said[name] for name in (*USES, "feed")])


def _examples(
    first: date, cages: Sequence[str], places: Sequence[tuple[str, str]], words: Localizer
) -> list[Sequence[str]]:
    """Lines as they look when they are filled in."""
    said, day = sheet_words(words), first.isoformat()
    trays = [place for place, _ in places if place.startswith("tray")] or [""]
    bins = [place for place, _ in places if place.startswith("bin")]
    eggs = [(f"{day} 07:30", cage, said["eggs"], "12.4 g", "", trays[0], "", "") for cage in cages[:1]]
    harvest = [
        (f"{day} 16:00", place, said["harvest"], "4.2 kg", said["sold"], "", "", "") for place in bins[:1]
    ]
    feed = [(f"{day} 09:00", place, said["feed"], "2 kg at 70 %", "", "", "", "") for place in bins[:1]]
    return [*eggs, *feed, *harvest]


def _row(cells: Sequence[str], kind: str = "") -> str:
    shown = "".join(f"<td>{_text(cell)}</td>" for cell in cells)
    return f'<tr class="{kind}">{shown}</tr>' if kind else f"<tr>{shown}</tr>"


def _class(name: str) -> str:
    return ' class="note"' if name == "note" else ""


def _text(text: str) -> str:
    return html.escape(text)
