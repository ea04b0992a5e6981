"""The tables of a register map file, one at a time: which keys they have and what each must be."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from drivers.files.checked import nearest
from drivers.maps.blocks import READ_LIMIT
from drivers.maps.encodings import ENCODINGS, WORD_ORDERS
from drivers.maps.model import MeterMap, Table
from drivers.quantities import QUANTITIES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

_DEFAULTS = MeterMap("", "", ())


def _one_of(words: Iterable[str]) -> AfterValidator:
    names = tuple(words)

    def known(word: str) -> str:
        if word not in names:
            raise ValueError(f'found "{word}"; {nearest(word, names)}')
        return word

    return AfterValidator(known)


def not_blank(what: str) -> AfterValidator:
    """Make a check that a text is not blank; ``what`` says what to write."""

    def filled(text: str) -> str:
        if not text.strip():
            raise ValueError(f"is blank; {what}")
        return text

    return AfterValidator(filled)


def not_zero(scale: float) -> float:
    """Refuse a scale of 0."""
    if scale == 0:
        raise ValueError("found 0; must be another number, since everything would read as 0")
    return scale


def _bits(like: str) -> Callable[[Any], Any]:
    """Make a reader of bit patterns written as a whole number or as text such as ``"0x8000"``."""

    def read(found: Any) -> Any:
        if not isinstance(found, str):
            return found
        try:
            return int(found, 0)
        except ValueError as error:
            raise ValueError(f'found "{found[:40]}"; must be bits such as "{like}"') from error

    return read


def listed(found: Any) -> Any:
    """Take one thing for a list of one."""
    return tuple(found) if isinstance(found, list) else (found,)


def _tables(found: Any) -> Any:
    if isinstance(found, dict):
        raise ValueError("is one table; write its name in two pairs of brackets, as in [[value]]")  # noqa: TRY004 - pydantic's way
    return found


QuantityName = Annotated[str, _one_of(QUANTITIES)]
WordOrder = Annotated[str, _one_of(WORD_ORDERS)]
Bits = Annotated[int, BeforeValidator(_bits("0x7FC00000"))]
Word = Annotated[int, BeforeValidator(_bits("0x42F0")), Field(ge=0, le=0xFFFF)]
Address = Annotated[int, Field(ge=0, le=0x1_0000)]
Finite = Annotated[float, Field(allow_inf_nan=False)]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class MapFile(_Section):
    """The whole file, of which only the names of the tables are looked at here."""

    meter: dict[str, Any]
    value: Annotated[list[dict[str, Any]], BeforeValidator(_tables)] = []
    example: Annotated[list[dict[str, Any]], BeforeValidator(_tables)] = []


class LayoutTable(_Section):
    """``[meter]`` as far as the meaning of the other tables hangs on it."""

    table: Table
    address_base: Annotated[int, Field(ge=0, le=1)] = 0
    word_order: WordOrder = "ABCD"
    max_block: Annotated[int, Field(ge=1, le=READ_LIMIT)] = _DEFAULTS.max_block
    name: Any = None
    source: Any = None
    protocol: Any = None
    max_gap: Any = None


class MeterTable(LayoutTable):
    """``[meter]``: what holds for every value."""

    name: Annotated[str, not_blank("name the meter for people")]
    source: Annotated[str, not_blank("name the document that the map was made from: title, revision, page")]
    protocol: Literal["modbus"] = "modbus"
    max_gap: Annotated[int, Field(ge=0, le=READ_LIMIT)] = _DEFAULTS.max_gap


class ValueTable(_Section):
    """``[[value]]``: one quantity of one channel. Addresses count from the meter's ``address_base``."""

    channel: Annotated[str, not_blank("name the channel as the show file will")]
    quantity: QuantityName
    address: Address
    encoding: Annotated[str, _one_of(ENCODINGS)]
    table: Table | None = None
    word_order: WordOrder | None = None
    scale: Annotated[Finite, AfterValidator(not_zero)] = 1.0
    scale_from: Address | None = None
    missing: Annotated[tuple[Bits, ...], BeforeValidator(listed)] = ()


class ExampleTable(_Section):
    """``[[example]]``: registers from the meter's document and what they mean."""

    at: Address
    words: tuple[Word, ...]
    expect: dict[str, dict[str, Finite]]
    table: Table | None = None


KNOWN: dict[tuple[str, ...], tuple[str, ...]] = {
    (): tuple(MapFile.model_fields),
    ("meter",): tuple(MeterTable.model_fields),
    ("value",): tuple(ValueTable.model_fields),
    ("example",): tuple(ExampleTable.model_fields),
}
"""The keys of each table, to suggest the nearest."""
