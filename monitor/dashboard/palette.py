"""How each tone looks in each number of colours: grey while all is well, colour only where something is abnormal.

Colour never stands alone: a word and a mark go with it. In sixteen colours and in none the terminal's own
foreground and background are kept. Red for danger and yellow for caution are the convention of IEC 60073, from memory.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from rich.style import Style

from monitor.dashboard.pieces import Tone
from monitor.dashboard.terminal import Colours

if TYPE_CHECKING:
    from collections.abc import Mapping

BACKGROUND = "#17191b"

_FULL = {
    Tone.PLAIN: "#b4b8bb",
    Tone.QUIET: "#868b8f",
    Tone.STRONG: "bold #e6e8e9",
    Tone.FILL: "#8d969c",
    Tone.OLD: "italic #868b8f",
    Tone.LOW: "bold #e0cf86",
    Tone.HIGH: "bold #f0b232",
    Tone.URGENT: "bold #ff7a66",
    Tone.LOW_FILL: "#e0cf86",
    Tone.HIGH_FILL: "#f0b232",
    Tone.URGENT_FILL: "#ff7a66",
    Tone.LOW_BADGE: "bold #e0cf86",
    Tone.HIGH_BADGE: "bold #17191b on #f0b232",
    Tone.URGENT_BADGE: "bold #ffffff on #c22f1f",
    Tone.LOUD: "bold #ffffff on #c22f1f",
}
_SIXTEEN = {
    Tone.PLAIN: "",
    Tone.QUIET: "dim",
    Tone.STRONG: "bold",
    Tone.FILL: "",
    Tone.OLD: "dim",
    Tone.LOW: "yellow",
    Tone.HIGH: "bold yellow",
    Tone.URGENT: "bold red",
    Tone.LOW_FILL: "yellow",
    Tone.HIGH_FILL: "yellow",
    Tone.URGENT_FILL: "red",
    Tone.LOW_BADGE: "yellow",
    Tone.HIGH_BADGE: "black on yellow",
    Tone.URGENT_BADGE: "bold white on red",
    Tone.LOUD: "bold white on red",
}
_NONE = {
    Tone.PLAIN: "",
    Tone.QUIET: "dim",
    Tone.STRONG: "bold",
    Tone.FILL: "",
    Tone.OLD: "dim",
    Tone.LOW: "underline",
    Tone.HIGH: "bold underline",
    Tone.URGENT: "bold underline",
    Tone.LOW_FILL: "bold",
    Tone.HIGH_FILL: "bold",
    Tone.URGENT_FILL: "bold",
    Tone.LOW_BADGE: "bold",
    Tone.HIGH_BADGE: "reverse",
    Tone.URGENT_BADGE: "bold reverse",
    Tone.LOUD: "bold reverse",
}


def _parsed(styles: Mapping[Tone, str]) -> Mapping[Tone, Style]:
    return MappingProxyType({tone: Style.parse(text) for tone, text in styles.items()})


PALETTES: Mapping[Colours, Mapping[Tone, Style]] = MappingProxyType(
    {Colours.FULL: _parsed(_FULL), Colours.SIXTEEN: _parsed(_SIXTEEN), Colours.NONE: _parsed(_NONE)}
)
