"""Slips of the pen in `farm.toml`: what is not TOML, line by line, with the right line beside it.

Each slip is mended in the text alone, so that the rest of the file is read on and every problem is told at
once; the file itself is never changed. What nobody can tell apart is named with its line and left out.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from monitor.errors import Phrase, Problem, Sentence, sentence
from monitor.settings.problems import shortened, suggestion

LIST_TABLES = ("places", "nodes", "rules", "own_numbers", "recipients", "intake.plain")
PLAIN_TABLES = ("site", "store", "broker", "intake", "messages", "report", "page", "archive", "prices")
SECRET_KEYS = re.compile(r"^\s*(password|address|token|read_token|heartbeat_url)\s*[=:]")
MOST_SLIPS = 60
_CURLY = re.compile("[“”„‟«»″＂]")
_CURLY_SINGLE = re.compile("[‘’‚‛]")
_TRUE = frozenset({"true", "yes", "on", "oui", "vrai"})
_FALSE = frozenset({"false", "no", "off", "non", "faux"})
_HEADER = re.compile(r"\s*\[{1,2}\s*([A-Za-z_.\s]+?)\s*\]{0,2}\s*")
_PAIR = re.compile(r"(\s*)([A-Za-z_][\w.-]*)(\s*)([=:])(\s*)(.*?)\s*", re.DOTALL)
_NO_EQUALS = re.compile(r"(\s*)([a-z_]+)\s+([\"“'\[{\d].*|true|false)")
_UNIT = re.compile(r"(-?\d+(?:[.,]\d+)?)\s*([A-Za-z°%]{1,8})")
_ERROR_LINE = re.compile(r"\(at line (\d+), column \d+\)")

_LOOK = sentence("look at this line, and at the one before it")


@dataclass(frozen=True, slots=True)
class Slip:
    """One slip: its line, the key in it ("" without one), what was found and is allowed, the right line.

    `right` is "" where nobody can tell it; `remedy` then says what to do.
    """

    line: int
    key: str
    found: Phrase
    allowed: Phrase
    right: str
    remedy: Phrase = _LOOK

    def problem(self, file: str) -> Problem:
        """The slip as a problem of the file; a secret is not shown."""
        remedy = self.remedy
        if self.right:
            remedy = sentence("write: {line}", line=_without_secret(self.right.strip()))
        return Problem(file, self.key or sentence("the line"), self.found, self.allowed, remedy, self.line)


def mended(text: str) -> tuple[str, dict[str, Any] | None, tuple[Slip, ...]]:
    """The text with its slips mended or left out, its tables, and the slips in the order of their lines.

    No tables where the rest cannot be read, or holds more slips than anybody wants to read at once.
    """
    lines = text.splitlines()
    slips = [*_single_brackets(lines)]
    plain = "\n".join(lines) + "\n"
    for _ in range(MOST_SLIPS):
        try:
            return plain, tomllib.loads(plain), tuple(sorted(slips, key=lambda slip: slip.line))
        except tomllib.TOMLDecodeError as error:
            slips.append(_mend(lines, error))
            if not slips[-1].right and not _ERROR_LINE.search(str(error)):
                break  # Something is left open and nobody can tell where: the rest cannot be read.
        plain = "\n".join(lines) + "\n"
    return plain, None, tuple(sorted(slips, key=lambda slip: slip.line))


def decoded(content: bytes) -> tuple[str, Sentence | None]:
    """The text of a file, and what is wrong with the way in which it was saved."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")) and len(content) > 4 and len(content) % 2 == 0:
        return content.decode("utf-16", "replace"), sentence("saved as UTF-16, not as UTF-8 text")
    try:
        return content.decode("utf-8-sig"), None
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        return content.decode("cp1252", "replace"), sentence(
            "not UTF-8 text: a letter in line {line} is saved in another way", line=str(line)
        )


# One slip at a time.


def _single_brackets(lines: list[str]) -> Iterator[Slip]:
    """Lists of tables need two brackets; with one, the second such table would be the first again."""
    for index, line in enumerate(lines):
        code, comment = _split(line)
        found = re.fullmatch(r"\s*\[\s*([A-Za-z_.]+)\s*\]\s*", code)
        if found and found[1] in LIST_TABLES:
            lines[index] = f"[[{found[1]}]]{comment}"
            yield _slip(index, line, lines[index], sentence("two brackets on each side"), key=f"[{found[1]}]")


def _mend(lines: list[str], error: tomllib.TOMLDecodeError) -> Slip:
    """Mend or leave out what this error is about."""
    what = str(error)
    stated = _ERROR_LINE.search(what)
    index = min(int(stated[1]) if stated else len(lines), len(lines)) - 1
    if "twice" in what or "overwrite" in what or "immutable" in what.lower():
        return _given_twice(lines, index)
    before_it = tuple(_open_before(lines, index) if stated else _open_anywhere(lines))
    if stated and before_it:
        made = _element(lines[index])
        if made is not None:
            before, lines[index] = lines[index], made[0]
            return _slip(index, before, made[0], made[1], key=_key(lines[before_it[0]]))
        if unclosed := _close_list(lines, before_it[0], index):
            return unclosed
    for at in (index, *before_it):
        for mender in _MENDERS:
            made = mender(lines[at])
            if made is not None and made[0] != lines[at] and _is_toml_alone(made[0], lines[at]):
                before, lines[at] = lines[at], made[0]
                return _slip(at, before, made[0], made[1])
    before, lines[index] = lines[index], ""
    key = suggestion(before.strip().split(" ")[0], PLAIN_TABLES) if before.strip().startswith("[") else None
    return Slip(
        index + 1,
        _key(before) or (f"[{key}]" if key else ""),
        sentence("not readable: {text}", text=_without_secret(shortened(before.strip()))),
        sentence('key = value, one a line, with text in "double quotes"; a comment begins with #'),
        "",
    )


def _is_toml_alone(line: str, before: str) -> bool:
    """Whether the mended line can stand; a table or list that goes on below may stay open."""
    try:
        tomllib.loads(line + "\n")
    except tomllib.TOMLDecodeError:
        code = _split(before)[0].rstrip()
        return code.endswith(("[", "{", ",")) or "=" not in code
    return True


def _open_before(lines: list[str], index: int) -> Iterator[int]:
    """The nearest line above on which a bracket of a value, or a text, is left open."""
    for at in range(index - 1, max(-1, index - 40), -1):
        code = _split(lines[at])[0]
        if "=" not in code:
            continue
        value = code.partition("=")[2]
        if (
            value.count("[") > value.count("]")
            or value.count("{") > value.count("}")
            or value.count('"""') == 1
        ):
            yield at
        return


def _close_list(lines: list[str], start: int, index: int) -> Slip | None:
    """Close a list or table that goes over several lines and is still open at `index`."""
    last = next((at for at in range(index - 1, start, -1) if _split(lines[at])[0].strip()), start)
    if last == start:
        return None
    code, comment = _split(lines[last])
    before = lines[last]
    lines[last] = code + ("]" if _split(lines[start])[0].count("[") else "}") + comment
    return _slip(last, before, lines[last], _CLOSED, key=_key(lines[start]))


def _open_anywhere(lines: list[str]) -> Iterator[int]:
    """Lines on which a text is left open, for an error that shows only at the end of the file."""
    for at, line in enumerate(lines):
        code = _split(line)[0]
        if "=" in code and not _parses(code) and ("'" in code or code.count('"""') == 1):
            yield at


def _slip(index: int, before: str, after: str, allowed: Phrase, key: str = "") -> Slip:
    found = sentence("written as {text}", text=_without_secret(shortened(_split(before)[0].strip())))
    right = _split(after)[0] if _split(before)[1] else after
    return Slip(index + 1, key or _key(before), found, allowed, right)


def _key(line: str) -> str:
    pair = _PAIR.fullmatch(_split(line)[0])
    return pair[2] if pair else ""


def _without_secret(line: str) -> str:
    found = SECRET_KEYS.match(line)
    return f'{found[1]} = "..."' if found else line


def _split(line: str) -> tuple[str, str]:
    """The line without its comment, and the comment with the blanks before it."""
    quote, at = "", 0
    while at < len(line):
        sign = line[at]
        if quote:
            at += 1 if quote == '"' and sign == "\\" else 0
            quote = "" if sign == quote else quote
        elif sign in "\"'":
            quote = sign
        elif sign == "#":
            return line[:at].rstrip(), line[len(line[:at].rstrip()) :]
        at += 1
    if quote and (found := re.search(r"\s#", line)):
        return line[: found.start()], line[found.start() :]
    return line.rstrip(), ""


def _given_twice(lines: list[str], index: int) -> Slip:
    """The second of two tables or keys of one name is left out, a table with all that stands in it."""
    before = lines[index]
    code = _split(before)[0].strip()
    if not code.startswith("["):
        first = _first_of(lines, index, _key(before))
        lines[index] = ""
        return Slip(
            index + 1,
            _key(before),
            sentence("given twice: in line {line} already", line=str(first + 1)),
            sentence("each key once in a table"),
            "",
            sentence("remove one of the two"),
        )
    end = index + 1
    while end < len(lines) and not lines[end].lstrip().startswith("["):
        end += 1
    lines[index:end] = [""] * (end - index)
    first = next((at for at, line in enumerate(lines) if _split(line)[0].strip() == code), index)
    return Slip(
        index + 1,
        code,
        sentence("given twice: in line {line} already", line=str(first + 1)),
        sentence("each such table once"),
        "",
        sentence("put its keys under the first"),
    )


def _first_of(lines: list[str], index: int, key: str) -> int:
    for at in range(index - 1, -1, -1):
        if _key(lines[at]) == key:
            return at
        if lines[at].lstrip().startswith("["):
            break
    return index


# What a line may have meant: each gives the right line and what is allowed, or None.

Mended = tuple[str, Phrase] | None


def _blanks(line: str) -> Mended:
    """Blanks that a word processor or a web page puts in."""
    plain = re.sub("[\u00a0\u2007\u202f\u2009\u3000\u200b\ufeff]", " ", line)
    return plain, sentence("ordinary blanks, as the space bar makes them")


def _header(line: str) -> Mended:
    code, comment = _split(line)
    found = _HEADER.fullmatch(code)
    name = found[1].replace(" ", "") if found else ""
    if name in LIST_TABLES:
        return f"[[{name}]]{comment}", sentence("two brackets on each side")
    if name in PLAIN_TABLES:
        return f"[{name}]{comment}", sentence("one bracket on each side")
    return None


def _curly_quotes(line: str) -> Mended:
    code, comment = _split(line)
    straight = _CURLY.sub('"', code)
    if re.search(r"[=\[,{]\s*[‘’‚‛]", straight):
        straight = _CURLY_SINGLE.sub('"', straight)
    return straight + comment, sentence('straight quotes: "')


def _without_equals(line: str) -> Mended:
    code, comment = _split(line)
    found = _NO_EQUALS.fullmatch(code)
    if found is None:
        return None
    return f"{found[1]}{found[2]} = {found[3]}{comment}", sentence("key = value")


def _colon(line: str) -> Mended:
    code, comment = _split(line)
    pair = _PAIR.fullmatch(code)
    if pair is None or pair[4] != ":":
        return None
    return _value_mended(f"{pair[1]}{pair[2]} = {pair[6]}") + comment, sentence("key = value")


def _element(line: str) -> Mended:
    """One text of a list that goes over several lines."""
    code, comment = _split(_CURLY.sub('"', line))
    if not re.fullmatch(r'\s*"[^=]*', code) or (code.count('"') % 2 == 0 and code == _split(line)[0]):
        return None
    if code.count('"') % 2:
        code = re.sub(r"([,\]}\s]*)$", r'"\1', code, count=1)
    return code + comment, _TEXTS


def _value(read: Callable[[str], str | None], allowed: Phrase) -> Callable[[str], Mended]:
    """A mender of what stands behind the =."""

    def mender(line: str) -> Mended:
        code, comment = _split(line)
        pair = _PAIR.fullmatch(code)
        value = read(pair[6]) if pair and pair[4] == "=" else None
        if pair is None or value is None:
            return None
        return f"{pair[1]}{pair[2]}{pair[3]}={pair[5]}{value}{comment}", allowed

    return mender


def _boolean(value: str) -> str | None:
    plain = value.strip("\"'").lower()
    return "true" if plain in _TRUE else "false" if plain in _FALSE else None


def _decimal_comma(value: str) -> str | None:
    found = re.fullmatch(r"(-?\d+),(\d+)", value)
    if found is None:
        return None
    is_thousands = len(found[2]) == 3 and found[1].strip("-0") != ""
    return found[1] + found[2] if is_thousands else f"{found[1]}.{found[2]}"


def _unit(value: str) -> str | None:
    found = _UNIT.fullmatch(value)
    return found[1].replace(",", ".") if found else None


def _bare_number(value: str) -> str | None:
    """A number as TOML does not take it: .5, 5., 007, 1 000."""
    plain = value.replace(" ", "")
    if not re.fullmatch(r"-?(\d+\.?\d*|\.\d+)", plain):
        return None
    return f"{float(plain):g}" if "." in plain else str(int(plain))


def _clock(value: str) -> str | None:
    found = re.fullmatch(r"(\d{1,2})[:hH.](\d{2})", value)
    return f'"{int(found[1]):02d}:{found[2]}"' if found else None


def _closing(value: str) -> str | None:
    """A quote or a bracket that is missing at the end or the beginning of a value."""
    text = value
    if text.startswith('"""') and text.count('"""') == 1:
        text = '"' + text.strip('"') + '"'
    elif text.count('"') % 2:
        if text.startswith("'") or (text.endswith("'") and not text.startswith("'")):
            text = '"' + text.strip("\"'") + '"'
        elif not text.startswith(('"', "[", "{")):
            text = '"' + text
        else:
            text = re.sub(r"([\]}]*)$", r'"\1', text, count=1)
    elif text.count("'") % 2 and text[:1] in "'\"":
        text = '"' + text.strip("\"'") + '"'
    text = re.sub(r'"\s+"', '", "', text) if text.startswith("[") else text
    text += "]" * (text.count("[") - text.count("]"))
    text += "}" * (text.count("{") - text.count("}"))
    return text


def _comment_behind(value: str) -> str | None:
    found = re.fullmatch(r"(\"[^\"]*\"|-?\d[\d.]*|true|false|\[[^\]]*\])\s+([^\W\d].*)", value)
    return f"{found[1]}  # {found[2]}" if found else None


def _list_without_brackets(value: str) -> str | None:
    return f"[{value}]" if re.fullmatch(r'"[^"]*"(\s*,\s*"[^"]*")+', value) else None


def _unquoted(value: str) -> str | None:
    if not value or value[0] in "\"'[{" or '"' in value:
        return None
    return f'"{value}"'


def _list_of_bare_words(value: str) -> str | None:
    if not re.fullmatch(r"\[[A-Za-z_0-9/,\s.\"-]+\]", value):
        return None
    words = [word.strip().strip('"') for word in value[1:-1].split(",") if word.strip()]
    return "[" + ", ".join(f'"{word}"' for word in words) + "]"


def _prose(line: str) -> Mended:
    """A line of words without # before them."""
    words = line.split()
    if len(words) < 2 or "=" in line or line.lstrip().startswith("["):
        return None
    return f"# {line.strip()}", _COMMENTS


_TRUTHS = sentence("true or false, in small letters")
_NUMBERS = sentence("a number with a point, without a unit")
_TEXTS = sentence('text in "double quotes"')
_COMMENTS = sentence("a comment begins with #")
_CLOSED = sentence("a quote and a bracket at each end")
_VALUES: tuple[tuple[Callable[[str], str | None], Sentence], ...] = (
    (_boolean, _TRUTHS),
    (_clock, sentence('a time of day in quotes: "06:30"')),
    (_decimal_comma, _NUMBERS),
    (_bare_number, _NUMBERS),
    (_unit, _NUMBERS),
    (_list_without_brackets, sentence("a list in [ ]")),
    (_comment_behind, _COMMENTS),
    (_closing, _CLOSED),
    (_list_of_bare_words, _TEXTS),
    (_unquoted, _TEXTS),
)
_MENDERS: tuple[Callable[[str], Mended], ...] = (
    _blanks,
    _header,
    _curly_quotes,
    _colon,
    _without_equals,
    *(_value(read, allowed) for read, allowed in _VALUES),
    _prose,
)


def _value_mended(line: str) -> str:
    """A line whose value may have a slip of its own."""
    for read, allowed in _VALUES:
        made = _value(read, allowed)(line)
        if made is not None and _parses(made[0]) and not _parses(line):
            return made[0]
    return line


def _parses(line: str) -> bool:
    try:
        tomllib.loads(line)
    except tomllib.TOMLDecodeError:
        return False
    return True
