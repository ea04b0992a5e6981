"""The help screen: what bars, words and signs mean, and what this program is not."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from monitor.dashboard import words
from monitor.dashboard.bar import Marks, bar
from monitor.dashboard.faults import ABOVE, BADGE_WIDTH, BELOW, OTHER
from monitor.dashboard.happened import ALARM, BOTH, OFF, ON
from monitor.dashboard.pieces import Cells, Line, Page, Piece, Tone, padded
from monitor.dashboard.signs import FALLING, HOT, RISING, WARM

if TYPE_CHECKING:
    from collections.abc import Mapping

    from monitor.engine.snapshot import Snapshot

_INDENT = BADGE_WIDTH + 1
_BAR = 15
_SAMPLES = (
    (9.0, Marks(20.0, 16.0, 12.0), "9 A of 20 A, below its plan"),
    (17.5, Marks(20.0, 16.0, 12.0), "17.5 A, above plan and continuous limit"),
    (24.0, Marks(20.0, 16.0, 12.0), "24 A, past the breaker's rating"),
)
_BARS = (
    "Every bar has the same scale: nought to one and a half times the rating. Along it: ● the plan, │ the limit for "
    "continuous load, ░ the stretch up to the rating, │ the rating. → at the end: more than the scale holds. A ▒ bar "
    "and > before amps: no meter there, the sum of the live circuits, so at least this much."
)
_WORDS = (
    (f"{ABOVE}near {ABOVE}amps", "near and above the rating; capitals on any mark: urgent"),
    (f"{ABOVE}plan", "more than the planned load"),
    (f"{ABOVE}volts {BELOW}volts", "outside the limits for volts"),
    (f"{OTHER}OLD", "no reading for longer than the limit: the last one stands in brackets, with its age"),
    ("not measured", "no meter there"),
    ("-", "this meter does not measure it; never the same as 0"),
    (f"{RISING} {FALLING}", "behind amps: more or less than a minute ago by 3 % of the rating; blank while steady"),
    (WARM, "behind the bar: its load has brought the breaker halfway to where its standard lets it open"),
    (HOT, "as far as that or farther; it may open, and nothing here says when"),
    ("plan", "the column: amps more (+) or less (-) than planned"),
    ("of", "the column: the breaker's or the leg's rating in amps"),
    ("age", "the column: time since the last reading"),
)
_ALARMS = (
    "Alarms (a): ▲▼ or a click chooses one; what to do stands below the list. Acknowledging says that you have seen it "
    "and deal with it; it makes nothing go away. A time before the words of an alarm: they were told then, and their "
    "figures are not of now. Your name goes into the log with whatever you ask (@ changes it). "
    "The logger decides, and the list shows what it did."
)
_STATES = (
    ("k  K", "acknowledge the chosen one; all of them"),
    ("v  V", "shelve it for some minutes, with a reason; take it off the shelf"),
    ("x", "reset one that is latched, after it was acknowledged and what it saw has gone"),
    ("y", "history: every time that an alarm stood in the last 7 days, who acknowledged it and when"),
    ("n", "write a note into the log, on any screen"),
    ("b", "mute this screen's bell for some minutes; it rings once for each new alarm that is high or urgent"),
    ("returned", "back within its limit, but nobody has acknowledged it"),
    ("latched", "stands until somebody resets it, whatever the readings do"),
    ("shelved", "put aside by somebody until a time; the first line counts these"),
)
_CIRCUITS = (
    "Circuits: ▲▼ or a click chooses one, Enter or one more click opens it, Esc lets it go. With another order or a "
    "filter the line above the circuits says what is left out."
)
_CIRCUIT_KEYS = (
    ("s", "order: by boxes as in the show file, or the one nearest to its continuous limit first"),
    ("f", "filter: type a box or a leg, as boxA or L1; with nothing typed all come back"),
    ("g", "large: few big figures for the wall, the circuits nearest to their limits, in % of the rating"),
)
_ONE = (
    "One circuit: its amps over time, on the scale of the bars: full up to the mean, ░ up to the highest, with ● plan, "
    "limit and rating drawn across. Below them its volts around nominal, with the limits of its alarms, and the lowest "
    "seen. A hole is a time in which nothing was read; ? marks where readings are missing, some or all. Below the "
    "trend (▲▼ scroll): its breaker, planned loads, steps, and the meter behind it."
)
_ONE_KEYS = (
    ("+  -", "a shorter or longer stretch: 5 min, 20 min, 2 h, 12 h; the longer ones are drawn from minutes"),
    ("← →", "the circuit before, the next one; [ and ] do the same"),
    (f"{ON} {OFF} {BOTH}  {ALARM}", "between the plots: a load came on, went off, both; while an alarm stood"),
    ("breaker", "what its standard alone allows from cold at the amps of now; a real breaker may differ"),
    ("taken for", "the planned loads that fit a step best; below 90 % it is said how sure that is"),
)
_SOURCE = (
    "Power source (p): kW, kVA, the mean of the last 15 minutes (demand) and each leg, each bar on the scale of its "
    "own rating. Below them hertz over volts of the lowest leg, so that a dip of both is seen at one place; + and - as "
    "on one circuit. Fuel and its times are estimates by the set's fuel points and what was read of its load."
)
_SOURCE_KEYS = (
    ("apart", "how far the lowest leg's amps are below the highest's, in % of the highest's"),
    ("r", "write down a refuel: litres filled in, up to the full tank; two of them check the estimate"),
    ("until", "when nothing more can be drawn, at the last hour's mean load; then at the worst hour's"),
    ("reserve", "when the level at which fuel is called for is reached, at the last hour's mean load"),
    ("if full at", "nobody has entered a refuel: a full tank when the log began is only assumed"),
    ("low load", "time under 30 % of the rating, less the time above it since: what the alarm counts"),
)
_METERS = (
    "Meters (m): each bus with its meters, counted since the logger started. A poll is good when all of it came; "
    "silent means that no reply came in time. Where a meter gives nothing, the line below it says what to look at."
)
_METER_KEYS = (
    ("ms  worst", "from question to whole reply: the median and the longest of the last 60 polls, in milliseconds"),
    ("retries", "asked again at once after a fault"),
    ("occupied", "share of the time in which a bus asks or waits; near 100 % polls come late"),
    ("not known", "an attached screen gets these figures only from a logger that runs on the same computer"),
)
_OTHERS = (
    ("c  Ctrl+P", "commands: type what to do, or a circuit; Esc leads back to the screen before, everywhere"),
    ("h", "room for: type watts, or watts@power factor; every circuit, most room first, and what limits each"),
    ("fits", "by what is measured now and the site's continuous policy; it is no permission"),
    ("volts gone", "its own meter reads next to no volts, as behind an open breaker: nothing is told of room there"),
    ("not checked", "a place on the way has no live value or no rating, so nothing is known of it"),
    ("l", "log: the newest events, alarms and notes; / searches their words, places and names"),
)
_OBSERVER = (
    "legwatch only observes. It is no protective device, it switches nothing, and nothing here says that something is "
    "without voltage or may be reset or energised. A qualified person decides that, with a proper tester."
)
_REACH = (
    "It reads each meter about once a second: what is shorter is not seen. No alarm on this screen means "
    "none in what is measured, once its delay is over."
)


_TOPICS: Mapping[str, tuple[str, tuple[tuple[str, str], ...]]] = MappingProxyType(
    {
        "circuits": (_CIRCUITS, _CIRCUIT_KEYS),
        "circuit": (_ONE, _ONE_KEYS),
        "source": (_SOURCE, _SOURCE_KEYS),
        "meters": (_METERS, _METER_KEYS),
        "others": ("", _OTHERS),
        "alarms": (_ALARMS, _STATES),
    }
)


def guide_page(_: Snapshot, size: Cells, topic: str = "") -> Page:
    """Give the help screen's lines: those of one topic first, where help was asked for there."""
    body: list[Line] = [*_section(topic, size.width)[1:], ()] if topic in _TOPICS else []
    body += [*_texts((_OBSERVER, _REACH), size.width), ()]
    for amps, marks, meaning in _SAMPLES:
        drawn = bar(amps, marks, _BAR)
        body.append(_indented((*drawn, Piece(f"  {meaning}")), size.width))
    body += [*_texts((_BARS,), size.width), ()]
    for word, meaning in _WORDS:
        body += _explained(word, meaning, size.width)
    for other in _TOPICS:
        body += _section(other, size.width) if other != topic else []
    return Page((_indented((Piece("Help", Tone.STRONG),), size.width),), tuple(body))


def _section(topic: str, width: int) -> list[Line]:
    text, keys = _TOPICS[topic]
    lines: list[Line] = [(), *_texts((text,), width)]
    for word, meaning in keys:
        lines += _explained(word, meaning, width)
    return lines


def _explained(word: str, meaning: str, width: int) -> list[Line]:
    place = 15
    texts = words.wrapped(meaning, width - _INDENT - place)
    leads = [word, *("" for _ in texts[1:])]
    return [
        _indented((Piece(lead.ljust(place), Tone.STRONG), Piece(text)), width)
        for lead, text in zip(leads, texts, strict=True)
    ]


def _texts(texts: tuple[str, ...], width: int) -> list[Line]:
    return [_indented((Piece(line),), width) for text in texts for line in words.wrapped(text, width - _INDENT)]


def _indented(line: Line, width: int) -> Line:
    return padded((Piece(" " * _INDENT), *line), width)
