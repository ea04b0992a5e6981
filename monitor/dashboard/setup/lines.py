"""What the screen of ``legwatch setup`` shows, in lines: choices, a meter's values, the help. Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich.cells import cell_len

from monitor.cautions import SHORT
from monitor.dashboard.pieces import Line, Piece, Tone, clean, fit

if TYPE_CHECKING:
    from collections.abc import Sequence

_MARK, _NO_MARK = "> ", "  "
HELP = f"""\
Answer the question on the screen: type and press Enter, or choose with the arrow keys or the mouse. Enter alone takes \
the line marked > , or what stands behind "Enter takes".

Esc goes back one question, as often as you like; what was found on the wires meanwhile is looked for again. While \
something is looked for, Esc gives up and goes back too.
Tab puts what Enter would take into the line, to change it.
Page up and page down scroll what was told, or the file on the last page.
Ctrl-C ends. Nothing is lost: your answers are kept beside the show file, and the next legwatch setup goes on from \
there, on this screen or with --plain.

The show so far: what your answers make, from the source outwards, then the buses with their meters. Nothing is \
written before the last page, which shows what would be.

Read now: what the meter gives while you say what its channels measure, about once a second: when a load that you \
know comes on, see which channel follows. OLD: the meter was not read for three seconds or more, the values are the \
last ones.

{SHORT}
"""


def choice_lines(choices: Sequence[tuple[str, str]], at: int, width: int, height: int) -> list[tuple[int, Line]]:
    """Give the choices in sight, each line with the number of its choice.

    The one that is chosen is told in full, over several lines where it takes them; the others in one line each.

    Args:
        choices: (answer, words).
        at: which is chosen, from 0; anything else: none.
        width: of the lines [cells].
        height: how many lines there are at most.

    """
    lines: list[tuple[int, Line]] = []
    for number, (answer, words) in enumerate(choices):
        text = words if answer == words or not answer.isalnum() else f"{answer}  {words}"
        chosen = number == at
        tone = Tone.STRONG if chosen else Tone.PLAIN
        parts = _wrapped(text, width - len(_MARK)) if chosen else [fit(text, width - len(_MARK)).rstrip()]
        marks = [_MARK if chosen else _NO_MARK] + [_NO_MARK] * (len(parts) - 1)
        lines += [(number, (Piece(mark + part, tone),)) for mark, part in zip(marks, parts, strict=True)]
    chosen_lines = [n for n, (number, _) in enumerate(lines) if number == at] or [0]
    above = max(0, min(height // 3, height - len(chosen_lines)))
    top = max(0, min(chosen_lines[0] - above, len(lines) - height))
    return lines[top : top + height]


def live_lines(row: dict[str, Any] | None, channel: str, width: int, height: int, *, old: bool) -> list[Line]:
    """Give a meter's values as last read, the channel that is asked about marked and in sight.

    Args:
        row: what the meter gave (``Wire.read``), or None before it was read.
        channel: asked about.
        width: of the lines [cells].
        height: how many lines there are at most, one for the head.
        old: whether that was too long ago to be called live.

    """
    if row is None:
        return [(Piece("Reading the meter ...", Tone.QUIET),)]
    if row["problem"]:
        return [(Piece(fit(f"No values: {row['problem']}", width).rstrip(), Tone.OLD),)]
    head = Piece("OLD: not read for 3 s or more", Tone.OLD) if old else Piece("Read now:", Tone.QUIET)
    names = [str(one["channel"]) for one in row["channels"]]
    widest = max(map(cell_len, names), default=0)
    lines = []
    for one in row["channels"]:
        asked = one["channel"] == channel
        tone = Tone.OLD if old else Tone.STRONG if asked else Tone.PLAIN
        text = f"{_MARK if asked else _NO_MARK}{fit(str(one['channel']), widest)}  {one['reads']}"
        lines.append((Piece(fit(text, width).rstrip(), tone),))
    room = max(height - 1, 1)
    top = max(0, min((names.index(channel) if channel in names else 0) - room // 2, len(lines) - room))
    return [(head,), *lines[top : top + room]]


def hung(texts: Sequence[str], width: int) -> list[str]:
    """Break indented texts into lines, what is broken indented further."""
    lines: list[str] = []
    for text in texts:
        indent = " " * (len(text) - len(text.lstrip(" ")))
        first, *more = _wrapped(text.strip(" "), max(width - len(indent) - len(_NO_MARK), 1))
        lines += [indent + first, *(indent + _NO_MARK + part for part in more)]
    return lines


def _wrapped(text: str, width: int) -> list[str]:
    """Break a text between words; a word that is longer than a line is cut into lines."""
    lines = [""]
    for word in clean(text).split(" "):
        joined = f"{lines[-1]} {word}".lstrip()
        if cell_len(joined) <= width:
            lines[-1] = joined
            continue
        pieces = [word[n : n + max(width, 1)] for n in range(0, len(word), max(width, 1))] or [""]
        lines = [*(lines if lines != [""] else []), *pieces]
    return lines
