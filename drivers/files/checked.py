"""From located TOML to a checked object: pydantic looks, its findings become faults with file, line and key."""

from __future__ import annotations

import difflib
import json
from typing import TYPE_CHECKING, Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from drivers.files.faults import Fault, FileFaults
from drivers.files.located import LocatedToml, dotted

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pydantic_core import ErrorDetails

    from drivers.files.located import Path

T = TypeVar("T")

_NAMED = 20  # names in one message, a few lines' worth
_PLAIN = {
    "string_type": "text in quotes",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "finite_number": "a finite number",
    "bool_type": "true or false",
    "tuple_type": "a list in [ ]",
    "list_type": "a list in [ ]",
    "dict_type": "a table",
    "model_type": "a table",
    "dataclass_type": "a table",
    "model_attributes_type": "a table",
}


def check(
    located: LocatedToml, adapter: TypeAdapter[T], known: Mapping[tuple[str, ...], tuple[str, ...]], at: Path = ()
) -> T:
    """Check the data of ``located`` against ``adapter`` (strictly: no text for a number).

    Args:
        located: the parsed file.
        adapter: what it must be.
        known: names of the keys of each table, by its path without list indices, to suggest the nearest.
        at: look at this part of the file only.

    Raises:
        FileFaults: every fault found.

    """
    part: Any = located.data
    for step in at:
        part = part[step]
    try:
        return adapter.validate_json(json.dumps(part, default=_no_text), strict=True)
    except (RecursionError, ValueError) as error:
        if not isinstance(error, ValidationError) or error.errors()[0]["type"] == "json_invalid":
            raise FileFaults(
                (located.fault(at, "is nested too deeply, or holds a number too long to read"),)
            ) from error
        faults = tuple(_fault(located, detail, known, at) for detail in error.errors(include_url=False))
        raise FileFaults(tuple(dict.fromkeys(faults))) from error


def _no_text(value: object) -> dict[str, str]:
    """Stand in for a TOML date or time, which nothing here takes: it must not pass as text."""
    return {"date or time": str(value)}


def nearest(word: str, words: tuple[str, ...]) -> str:
    """Say which of ``words`` is nearest to ``word``, or list them all where none is near."""
    same = [known for known in words if known.casefold() == word.casefold()]
    close = same or difflib.get_close_matches(word, words, n=1, cutoff=0.6)
    if close:
        return f'did you mean "{close[0]}"?'
    if not words:
        return "nothing of that kind is known here"
    more = f" and {len(words) - _NAMED} more" if len(words) > _NAMED else ""
    return f"known here: {', '.join(words[:_NAMED])}{more}"


def _fault(
    located: LocatedToml, detail: ErrorDetails, known: Mapping[tuple[str, ...], tuple[str, ...]], at: Path
) -> Fault:
    path = _real_path(located.data, (*at, *detail["loc"]))
    kind = detail["type"]
    if kind in ("extra_forbidden", "unexpected_keyword_argument"):
        names = known.get(tuple(part for part in path[:-1] if isinstance(part, str)), ())
        return Fault(located.file, located.line_of(path), dotted(path), f"unknown key; {nearest(str(path[-1]), names)}")
    if kind in ("missing", "missing_argument"):
        return Fault(located.file, located.line_of(path), dotted(path), "is missing")
    return Fault(located.file, located.line_of(path), dotted(path), _text(detail))


def _text(detail: ErrorDetails) -> str:
    kind, found = detail["type"], detail["input"]
    shown = json.dumps(found, default=str, ensure_ascii=False)
    shown = shown if len(shown) <= 60 else shown[:57] + "..."  # noqa: PLR2004 - a line's worth
    if kind == "literal_error":
        expected = str(detail["ctx"]["expected"]).replace("'", '"')
        return f"found {shown}; must be {expected}"
    if kind in _PLAIN:
        return f"found {shown}; must be {_PLAIN[kind]}"
    message = detail["msg"].removeprefix("Value error, ").removeprefix("Input should be ")
    return f"found {shown}; must be {message}" if detail["msg"].startswith("Input should") else f"{message}"


def _real_path(data: Any, loc: tuple[str | int, ...]) -> tuple[str | int, ...]:
    """Keep of pydantic's location what stands in the file (it also names union members)."""
    path: list[str | int] = []
    for position, part in enumerate(loc):
        inside_dict = isinstance(data, dict) and isinstance(part, str)
        in_list = isinstance(data, list) and isinstance(part, int) and part < len(data)
        if in_list or (inside_dict and part in data):
            path.append(part)
            data = data[part]
        elif inside_dict and position == len(loc) - 1:
            path.append(part)
    return tuple(path)
