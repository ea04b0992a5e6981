"""A show file being drafted: its text changes only where something was answered; comments and order stay.

New tables are written at the end of the text; a key of a table that is there is changed in place. Nothing is checked
here: the whole text is, by ``monitor.show.loading.load_show_text``, before it is written.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, InlineTable

if TYPE_CHECKING:
    from collections.abc import Mapping, MutableMapping

    from tomlkit import TOMLDocument

    Plain = str | float | bool | list[Any] | Mapping[str, Any]

Kind = Literal["feeder", "circuit", "bus", "meter"]


class NotToml(Exception):
    """The text is no TOML; says where and why."""


class ShowDraft:
    """The text of a show file, and changes to it."""

    def __init__(self, text: str = "") -> None:
        self._document = _parsed(text)

    @property
    def text(self) -> str:
        """The file as it would be written."""
        return tomlkit.dumps(self._document)

    def table(self, name: Literal["show", "source"]) -> Mapping[str, Any]:
        """Give a table's keys as plain data; empty where there is none."""
        found = self._document.unwrap().get(name)
        return found if isinstance(found, dict) else {}

    def tables(self, kind: Kind) -> list[dict[str, Any]]:
        """Give every table of a kind as plain data, in the file's order."""
        found = self._document.unwrap().get(kind)
        return [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []

    def find(self, kind: Kind, **keys: Any) -> dict[str, Any] | None:
        """Give the first table of a kind whose keys have these values, or None."""
        index = self._index(kind, keys)
        return None if index is None else self.tables(kind)[index]

    def set(self, name: Literal["show", "source"], values: Mapping[str, Plain | None]) -> None:
        """Set keys of a table; None takes a key out. The table is made where there is none."""
        if name not in self._document:
            self._append(f"\n[{name}]\n", values)
        else:
            _change(self._document[name], values)

    def put(self, kind: Kind, keys: Mapping[str, Any], values: Mapping[str, Plain | None]) -> None:
        """Set keys of the table of a kind that has ``keys``, or add one with both at the end."""
        index = self._index(kind, keys)
        if index is not None:
            _change(self._document[kind][index], values)
            return
        known = self._document.get(kind)
        if known is None or isinstance(known, AoT):
            self._append(f"\n[[{kind}]]\n", {**keys, **values})
        else:  # an array of inline tables: nothing else may stand beside it
            known.append(_item({key: value for key, value in {**keys, **values}.items() if value is not None}))

    def _index(self, kind: Kind, keys: Mapping[str, Any]) -> int | None:
        for index, table in enumerate(self.tables(kind)):
            if all(table.get(key) == value for key, value in keys.items()):
                return index
        return None

    def _append(self, head: str, values: Mapping[str, Plain | None]) -> None:
        lines = [f"{key} = {_item(value).as_string()}\n" for key, value in values.items() if value is not None]
        before = self.text
        gap = "" if not before or before.endswith("\n") else "\n"
        self._document = _parsed(f"{before}{gap}{head.lstrip() if not before else head}{''.join(lines)}")


def _parsed(text: str) -> TOMLDocument:
    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        raise NotToml(str(error)) from error


def _change(table: MutableMapping[str, Any], values: Mapping[str, Plain | None]) -> None:
    for key, value in values.items():
        if value is None:
            table.pop(key, None)
        elif isinstance(value, dict) and isinstance(table.get(key), dict):
            _change(table[key], {**dict.fromkeys(set(table[key]) - set(value)), **value})
        elif table.get(key) != value:
            table[key] = _item(value)


def _item(value: Any) -> Any:
    """Give a value on one line."""
    if isinstance(value, dict):
        table: InlineTable = tomlkit.inline_table()
        for key, inner in value.items():
            table.append(key, _item(inner))
        return table
    if isinstance(value, list):
        array = tomlkit.array()
        for inner in value:
            array.append(_item(inner))
        return array
    return tomlkit.item(value)
