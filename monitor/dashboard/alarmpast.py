"""The alarms of the last days: when each stood, for how long, and who acknowledged it."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from monitor.dashboard import words
from monitor.dashboard.faults import BADGE_WIDTH, badge
from monitor.dashboard.logpage import NO_LOG, when
from monitor.dashboard.pieces import BLANK, Cells, Line, Page, Piece, Tone, cut, padded, right, width_of
from monitor.dashboard.screens import OverScreen
from monitor.engine.snapshot import AlarmView

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from monitor.dashboard.session import Session
    from monitor.engine.history import Spell
    from monitor.engine.snapshot import Snapshot

DAYS, MOST = 7, 500
_DAY_MS, _AGAIN_MS = 86_400_000, 3_000
_TIME, _LASTED = 11, 6  # cells
_STANDS, _UNKNOWN = "stands", "?"
_MARGIN = 8  # cells kept free for how many lines are out of sight


def past_page(snapshot: Snapshot, size: Cells, spells: Sequence[Spell] | None) -> Page:
    """Give the times that alarms stood, the newest first.

    Args:
        snapshot: as it may be shown.
        size: in cells.
        spells: oldest first; None where there is no log to read.

    """
    margin = Piece(" " * _MARGIN)
    if spells is None:
        return Page((padded((margin, Piece(NO_LOG, Tone.OLD)), size.width),))
    many = f"{len(spells)} alarm{'' if len(spells) == 1 else 's'} in {DAYS} days, newest first"
    many = f"{MOST} of {many}" if len(spells) > MOST else many
    title = (margin, Piece("Alarm history", Tone.STRONG), Piece(f"   {cut(many, size.width - 24)}", Tone.QUIET))
    columns = Piece(f"{'began':<{_TIME}} {'lasted':>{_LASTED}} {'':<{BADGE_WIDTH}} what was seen last", Tone.QUIET)
    newest = tuple(reversed(spells))[:MOST]
    body = tuple(line for spell in newest for line in _spell(spell, snapshot, size.width))
    return Page((padded(title, size.width), padded((columns,), size.width)), body)


def _spell(spell: Spell, snapshot: Snapshot, width: int) -> Iterator[Line]:
    stands = spell.end_ms is None
    open_ = _STANDS if snapshot.logger.running else _UNKNOWN
    lasted = open_ if spell.end_ms is None else words.age((spell.end_ms - spell.begin_ms) / 1000)
    view = AlarmView(spell.code, spell.weight, spell.where, spell.text, spell.begin_ms, state="acknowledged")
    head: Line = (
        Piece(when(spell.begin_ms, snapshot.time_ms, snapshot.timezone).ljust(_TIME), Tone.QUIET),
        BLANK,
        Piece(right(lasted, _LASTED), Tone.STRONG if stands else Tone.PLAIN),
        BLANK,
        badge(view),
        BLANK,
    )
    indent = width_of(head)
    tone = Tone.PLAIN if stands else Tone.QUIET
    for text in words.wrapped(f"{spell.text}; {_who(spell, snapshot.timezone)}", width - indent):
        yield padded((*head, Piece(text, tone)), width)
        head = (Piece(" " * indent),)


def _who(spell: Spell, timezone: str) -> str:
    if spell.noted_ms is None:
        return "not acknowledged"
    return f"acknowledged {words.moment(spell.noted_ms, timezone):%H:%M} by {spell.who}"


class AlarmHistoryScreen(OverScreen):
    """The alarms of the last days. It is read on while its newest line is in sight."""

    TOPIC = "alarms"
    BINDINGS: ClassVar = []

    spells: tuple[Spell, ...] | None = None
    read_ms = 0

    def view(self, snapshot: Snapshot, size: Cells) -> Page:
        """Give the lines."""
        return past_page(snapshot, size, self.spells)

    def offers(self, action: str) -> bool:
        """Leave out the key that opened this screen: Esc is shown."""
        return action != "over('history')"

    def on_mount(self) -> None:
        """Read the log."""
        self._load(self.snapshot)
        super().show(self.snapshot, self.session)

    def show(self, snapshot: Snapshot, session: Session) -> None:
        """Draw another Snapshot; read on in the log, unless somebody reads further down."""
        if snapshot.time_ms - self.read_ms >= _AGAIN_MS and self.at_top:
            self._load(snapshot)
        super().show(snapshot, session)

    def _load(self, snapshot: Snapshot) -> None:
        if self.history is not None:
            self.read_ms = snapshot.time_ms
            self.spells = self.history.spells(self.read_ms - DAYS * _DAY_MS, self.read_ms + 1)
