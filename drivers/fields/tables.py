"""The tables of a field map's file, one at a time: which keys they have and what each must be."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from drivers.fields.model import Source
from drivers.iec62056.obis import canonical
from drivers.maps.tables import Finite, MapFile, QuantityName, listed, not_blank, not_zero

if TYPE_CHECKING:
    from collections.abc import Mapping

PROTOCOLS = ("modbus", "text", "iec62056-21")
_MINUS = " - "


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


def _code(text: str) -> Source:
    plus, minus, less = text.partition(_MINUS)
    codes = [canonical(part.strip()) for part in ((plus, less) if minus else (plus,))]
    if None in codes:
        raise ValueError(f'found "{text[:40]}"; must be an OBIS code such as "32.7.0", or two as in "1.7.0 - 2.7.0"')
    return Source(*(code for code in codes if code is not None))


Code = Annotated[str, AfterValidator(_code)]


class FieldMeterTable(_Section):
    """``[meter]``."""

    name: Annotated[str, not_blank("name the meter for people")]
    source: Annotated[str, not_blank("name the document or program that says what is sent")]
    protocol: Literal["text", "iec62056-21"]
    checksum: bool = False


class _ValueTable(_Section):
    channel: Annotated[str, not_blank("name the channel as the show file will")]
    quantity: QuantityName
    unit: str = ""
    scale: Annotated[Finite, AfterValidator(not_zero)] = 1.0


class TextValueTable(_ValueTable):
    """``[[value]]`` of a text map."""

    field: Annotated[str, not_blank("name the field as it stands in the line")]
    optional: bool = False


class CodeValueTable(_ValueTable):
    """``[[value]]`` of a telegram map; a telegram need not have every code."""

    code: Annotated[tuple[Code, ...], BeforeValidator(listed), Field(min_length=1)]
    optional: bool = True


class TextExampleTable(_Section):
    """``[[example]]``: what is sent, as it stands, and what it means."""

    text: Annotated[str, not_blank("give what the meter sends")]
    expect: dict[str, dict[str, Finite]]


def known(value: type[_ValueTable]) -> Mapping[tuple[str, ...], tuple[str, ...]]:
    """Give the keys of each table, to suggest the nearest."""
    return {
        (): tuple(MapFile.model_fields),
        ("meter",): tuple(FieldMeterTable.model_fields),
        ("value",): tuple(value.model_fields),
        ("example",): tuple(TextExampleTable.model_fields),
    }
