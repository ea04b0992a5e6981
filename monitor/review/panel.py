"""One plot of one quantity over time, as inline SVG that reads without colour and on paper."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, log10
from typing import TYPE_CHECKING

from monitor.review.markup import tag
from monitor.review.series import thinned
from monitor.review.times import clock, day, offset_ms

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from xml.etree.ElementTree import Element

    from monitor.review.series import Sample, Series

_WIDTH, _HEIGHT = 720, 132
_LEFT, _RIGHT, _TOP, _BOTTOM = 44, 96, 26, 18
_MOST = 600  # samples a run: more than a printed line can show
_LABEL = 12  # least distance between two labels
_STEPS_S = (5, 10, 30, 60, 120, 300, 600, 1_800, 3_600, 7_200, 21_600, 43_200, 86_400, 172_800, 604_800)
_LABELS = 8  # along the time, at most; a log that began in 1970 is 56 years long
_DAY_S = 86_400


@dataclass(frozen=True, slots=True)
class Line:
    """A level drawn across the plot: a limit, a rating, the plan.

    Attributes:
        value: in the plot's unit.
        label: short.
        style: ``limit`` or ``plan``.

    """

    value: float
    label: str
    style: str = "limit"


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that happened, on the time axis.

    Attributes:
        time_ms: when.
        label: short, as in the list that explains it.
        style: ``step``, ``alarm`` or ``incident``.

    """

    time_ms: int
    label: str
    style: str


@dataclass(frozen=True, slots=True)
class Panel:
    """What one plot shows.

    Attributes:
        title: place, quantity and unit.
        series: the figures.
        begin_ms: of the time axis.
        end_ms: of the time axis.
        timezone: of the show.
        lines: levels.
        marks: on the time axis.
        gaps: (begin, end) without readings [ms].
        from_zero: whether the figures stand on zero.

    """

    title: str
    series: Series
    begin_ms: int
    end_ms: int
    timezone: str
    lines: Sequence[Line] = ()
    marks: Sequence[Mark] = ()
    gaps: Sequence[tuple[int, int]] = ()
    from_zero: bool = False

    def svg(self) -> Element:
        """Draw it."""
        low, high, ticks = self._scale()
        drawn = _Drawn(self, low, high)
        picture = tag(
            "svg",
            tag("title", self.title),
            viewBox=f"0 0 {_WIDTH} {_HEIGHT}",
            role="img",
        )
        picture.extend(drawn.gaps())
        picture.extend(drawn.axes(ticks))
        picture.extend(drawn.lines())
        picture.extend(drawn.figures())
        picture.extend(drawn.marks())
        picture.append(tag("text", self.title, x=0, y=9, class_="name"))
        return picture

    def _scale(self) -> tuple[float, float, list[float]]:
        """Give the lowest and highest level and the ticks between."""
        samples = self.series.samples
        levels = [s.low for s in samples] + [s.high for s in samples] + [line.value for line in self.lines]
        levels += [0.0] if self.from_zero or not levels else []
        low, high = min(levels), max(levels)
        high = high if high > low else low + max(1.0, abs(low) * 0.01)
        step = _nice((high - low) / 3)
        first, last = floor(low / step), ceil(high / step)
        return first * step, last * step, [n * step for n in range(first, last + 1)]


class _Drawn:
    """The parts of one panel's picture."""

    def __init__(self, panel: Panel, low: float, high: float) -> None:
        self._panel, self._low, self._high = panel, low, high
        self._wide, self._tall = _WIDTH - _LEFT - _RIGHT, _HEIGHT - _TOP - _BOTTOM
        self._length_ms = max(1, panel.end_ms - panel.begin_ms)

    def _x(self, time_ms: float) -> float:
        part = (time_ms - self._panel.begin_ms) / self._length_ms
        return round(_LEFT + self._wide * min(max(part, 0.0), 1.0), 1)

    def _y(self, value: float) -> float:
        return round(_TOP + self._tall * (1 - (value - self._low) / (self._high - self._low)), 1)

    def gaps(self) -> Iterator[Element]:
        """Hatch the time without readings, and say so where there is room for the word."""
        for begin_ms, end_ms in self._panel.gaps:
            left, right = self._x(begin_ms), self._x(end_ms)
            wide = max(1.0, right - left)
            yield tag("rect", x=left, y=_TOP, width=round(wide, 1), height=self._tall, class_="gap")
            across = left + 4
            while across < right:
                yield tag(
                    "line", x1=round(across, 1), x2=round(across, 1), y1=_TOP, y2=_TOP + self._tall, class_="hatch"
                )
                across += 4
            if wide > 2.5 * _LABEL:
                yield tag("text", "no readings", x=round((left + right) / 2, 1), y=_TOP + 12, class_="mid")

    def axes(self, ticks: Sequence[float]) -> Iterator[Element]:
        """Draw the levels at the left and the times below."""
        right, foot = _LEFT + self._wide, _TOP + self._tall
        digits = max(0, -floor(log10(ticks[1] - ticks[0]) + 1e-9))
        for level in ticks:
            y = self._y(level)
            yield tag("line", x1=_LEFT, x2=right, y1=y, y2=y, class_="grid")
            yield tag("text", f"{level:.{digits}f}", x=_LEFT - 4, y=y + 3, class_="end")
        for time_ms, label in self._times():
            x = self._x(time_ms)
            yield tag("line", x1=x, x2=x, y1=foot, y2=foot + 3, class_="axis")
            yield tag("text", label, x=x, y=foot + 13, class_="mid")
        yield tag("line", x1=_LEFT, x2=right, y1=foot, y2=foot, class_="axis")

    def _times(self) -> Iterator[tuple[int, str]]:
        zone = self._panel.timezone
        weeks = -(-self._length_ms // (1000 * _STEPS_S[-1] * _LABELS))
        step_s = next((s for s in _STEPS_S if self._length_ms / 1000 / s <= _LABELS), weeks * _STEPS_S[-1])
        shift_ms = offset_ms(self._panel.begin_ms, zone)
        first = -(-(self._panel.begin_ms + shift_ms) // (1000 * step_s))
        for n in range(first, (self._panel.end_ms + shift_ms) // (1000 * step_s) + 1):
            time_ms = n * 1000 * step_s - shift_ms
            text = day(time_ms, zone)[5:] if step_s >= _DAY_S else clock(time_ms, zone)
            yield time_ms, text[:5] if step_s >= 60 else text  # noqa: PLR2004 - a minute

    def lines(self) -> Iterator[Element]:
        """Draw limits and plan with their labels at the right, lower ones pushed down where they would touch."""
        taken = -1e9
        for line in sorted(self._panel.lines, key=lambda one: -one.value):
            y = self._y(line.value)
            at = max(y + 3, taken + 9)
            taken = at
            right = _LEFT + self._wide
            yield tag("line", x1=_LEFT, x2=right, y1=y, y2=y, class_=line.style)
            yield tag("text", line.label, x=right + 4, y=round(at, 1), class_="lab")

    def figures(self) -> Iterator[Element]:
        """Draw the figures: a line, and behind it the reach from lowest to highest; never across a gap."""
        for run in self._panel.series.runs:
            kept = thinned(run, _MOST)
            if self._panel.series.step_ms or len(kept) < len(run):
                there = [f"{self._x(s.time_ms)},{self._y(s.high)}" for s in kept]
                back = [f"{self._x(s.time_ms)},{self._y(s.low)}" for s in reversed(kept)]
                yield tag("polygon", points=" ".join((*there, *back)), class_="reach")
            if len(kept) == 1:
                yield tag("circle", cx=self._x(kept[0].time_ms), cy=self._y(kept[0].value), r=1.2, class_="dot")
            else:
                yield tag("polyline", points=" ".join(map(self._corner, kept)), class_="fig")
        if not self._panel.series.runs:
            yield tag("text", "not measured", x=_LEFT + self._wide / 2, y=_TOP + self._tall / 2, class_="mid")

    def _corner(self, sample: Sample) -> str:
        return f"{self._x(sample.time_ms)},{self._y(sample.value)}"

    def marks(self) -> Iterator[Element]:
        """Draw what happened as upright lines, labelled where the labels don't touch."""
        taken = -1e9
        for mark in sorted(self._panel.marks, key=lambda one: one.time_ms):
            if not self._panel.begin_ms <= mark.time_ms <= self._panel.end_ms:
                continue
            x = self._x(mark.time_ms)
            yield tag("line", x1=x, x2=x, y1=_TOP - 3, y2=_TOP + self._tall, class_=mark.style)
            if x - taken >= _LABEL:
                yield tag("text", mark.label, x=x, y=_TOP - 4, class_="mid")
                taken = x


def _nice(step: float) -> float:
    """Give the 1, 2 or 5 times a power of ten that is next above ``step``."""
    power = 10.0 ** floor(log10(step))
    return float(next(n * power for n in (1, 2, 5, 10) if n * power >= step * 0.999))
