"""TOML with the line of every key.

The file is cut into statements (a table header, or one key with its value, over as many lines as it
takes); each is parsed by ``tomllib`` alone, so that its keys are known to stand on its first line.
Elements of a list written over several lines get the line on which they end, unless the list is very long.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from drivers.files.faults import Fault, FileFaults

if TYPE_CHECKING:
    from collections.abc import Iterator

Path = tuple[str | int, ...]

_TOKEN = re.compile(
    r'''"""(?:\\.|[^\\])*?"{3,5}|'{3}.*?'{3,5}'''  # strings over several lines
    r"""|"(?:\\.|[^"\\\n])*"|'[^'\n]*'|\#[^\n]*|[\[\]{}\n]""",
    re.DOTALL,
)
"""What can hide a line's end or a bracket, and these themselves; the text is known to be valid TOML."""
_LINES_LOOKED_INTO = 200  # parsing a statement once for each of its lines takes the square of their number


@dataclass(frozen=True, slots=True)
class LocatedToml:
    """A parsed TOML text.

    Attributes:
        file: its name, for messages.
        text: the text itself.
        data: what ``tomllib`` made of it.
        lines: line (from 1) of each key's path; list indices count from 0.

    """

    file: str
    text: str
    data: dict[str, Any]
    lines: dict[Path, int]

    def line_of(self, path: Path) -> int | None:
        """Give the line of a path, or of the nearest enclosing one that has a line."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path)

    def fault(self, path: Path, text: str) -> Fault:
        """Make a fault at ``path``."""
        return Fault(self.file, self.line_of(path), dotted(path), text)


def dotted(path: Path) -> str:
    """Write a path for people: ``circuit[2].breaker.amps``, counting from 1."""
    out = ""
    for part in path:
        out += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if out else part
    return out


def parse(text: str, file: str) -> LocatedToml:
    """Parse ``text``.

    Raises:
        FileFaults: it is no TOML; one fault, with its line.

    """
    plain = text.replace("\r\n", "\n")
    try:
        data = tomllib.loads(plain)
        lines = _locate(plain)
    except (ValueError, RecursionError) as error:  # a plain ValueError: a number of thousands of digits
        raise FileFaults((_syntax_fault(error, text, file),)) from error
    return LocatedToml(file, text, data, lines)


def read(path: str) -> LocatedToml:
    """Read and parse the file at ``path``.

    Raises:
        FileFaults: it can't be read, is no UTF-8 or is no TOML.

    """
    try:
        with open(path, encoding="utf-8-sig", newline=None) as stream:  # noqa: PTH123 - a path as the user gave it
            text = stream.read()
    except UnicodeDecodeError as error:
        raise FileFaults((Fault(path, None, "", "is not UTF-8 text; save it as UTF-8"),)) from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FileFaults((Fault(path, None, "", f"can't be read: {reason}"),)) from error
    return parse(text, path)


def _syntax_fault(error: Exception, text: str, file: str) -> Fault:
    if isinstance(error, RecursionError):
        return Fault(file, None, "", "is nested too deeply")
    if not isinstance(error, tomllib.TOMLDecodeError):
        return Fault(file, None, "", "holds a number with too many digits")
    message, line = str(error), None
    if "(at line " in message:
        message, _, tail = message.partition(" (at line ")
        line = int(tail.split(",", 1)[0])
    elif "(at end of document)" in message:
        message = message.partition(" (at end")[0]
        line = text.count("\n") + (not text.endswith("\n"))
    return Fault(file, line, "", f"is not valid TOML here: {message[:1].lower()}{message[1:]}")


def _statements(text: str) -> Iterator[tuple[int, int, str]]:
    """Give (first line from 1, last line, statement) of each header or key."""
    line, start, depth = 1, 0, 0
    for token in _TOKEN.finditer(text + "\n"):
        if token[0] in ("[", "{"):
            depth += 1
        elif token[0] in ("]", "}"):
            depth -= 1
        elif token[0] == "\n" and depth == 0:
            statement = text[start : token.start()]
            last = line + statement.count("\n")
            if statement.strip() and not statement.lstrip().startswith("#"):
                yield line, last, statement
            line, start = last + 1, token.end()


def _alone(statement: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads(statement)
    except (tomllib.TOMLDecodeError, RecursionError):
        return None


def _locate(text: str) -> dict[Path, int]:
    found: dict[Path, int] = {}
    prefix: Path = ()
    counts: dict[Path, int] = {}
    for first, last, statement in _statements(text):
        alone = _alone(statement)
        if alone is None:
            continue
        if statement.lstrip().startswith("["):
            prefix = _header(alone, counts, is_list=statement.lstrip().startswith("[["))
            for size in range(1, len(prefix) + 1):
                found.setdefault(prefix[:size], first)
        else:
            _note(found, prefix, alone, first)
            if first < last < first + _LINES_LOOKED_INTO:
                _note_elements(found, prefix, statement, first)
    return found


def _header(alone: dict[str, Any], counts: dict[Path, int], *, is_list: bool) -> Path:
    """Turn a header parsed alone into the path of the table it opens."""
    names: list[str] = []
    inner: Any = alone
    while isinstance(inner, dict) and inner:
        name, inner = next(iter(inner.items()))
        names.append(name)
        inner = inner[0] if isinstance(inner, list) else inner
    path: Path = ()
    for position, name in enumerate(names):
        path = (*path, name)
        if is_list and position == len(names) - 1:
            counts[path] = counts.get(path, 0) + 1
        if path in counts:
            path = (*path, counts[path] - 1)
    return path


def _note(found: dict[Path, int], prefix: Path, value: Any, line: int) -> None:
    if prefix:
        found.setdefault(prefix, line)
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        _note(found, (*prefix, key), inner, line)


def _note_elements(found: dict[Path, int], prefix: Path, statement: str, first: int) -> None:
    """Give each element of a list over several lines the line where it is complete."""
    lines = statement.split("\n")
    seen: dict[Path, int] = {}
    for end in range(1, len(lines) + 1):
        for closing in ("", "\n]", "\n]}"):
            cut = _alone("\n".join(lines[:end]) + closing)
            if cut is not None:
                _note_lists(seen, prefix, cut, first + end - 1)
                break
    found.update(seen)


def _note_lists(seen: dict[Path, int], path: Path, value: Any, line: int) -> None:
    if isinstance(value, dict):
        for key, inner in value.items():
            _note_lists(seen, (*path, key), inner, line)
    elif isinstance(value, list):
        for index, element in enumerate(value):
            _note(seen, (*path, index), element, line)
