"""Reads telegrams: signs on where a meter waits to be asked, and listens where it sends by itself.

=============  ==================================================  ====================================
waiting for    what comes                                          then
=============  ==================================================  ====================================
ANSWER         identification, speed a digit (mode C)              after a pause: acknowledge, change speed, DATA
ANSWER         identification, speed a letter (mode B)             change speed, DATA
ANSWER         identification, any other speed (mode A)            DATA
DATA           a whole telegram                                    give it; first speed, NOTHING
DATA           nothing for too long                                broken off; first speed, NOTHING
NOTHING        the next poll is due                                sign on, ANSWER
any            a telegram that nobody asked for (mode D, P1)       give it; never sign on again
=============  ==================================================  ====================================

Sources: notes on IEC 62056-21 (see the tests); speeds of mode B and the times from memory.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from drivers.clock import monotonic
from drivers.errors import Corrupt, Silent
from drivers.iec62056.telegram import LONGEST, answered, end_of_unasked, identification, unasked
from drivers.links.byte_stream import STALLED_S, empty
from drivers.listening.patience import Patience

if TYPE_CHECKING:
    from drivers.bus.settings import BusSettings
    from drivers.fields.model import Fields
    from drivers.iec62056.telegram import Identification
    from drivers.links.byte_stream import ByteStream

SIGN_ON = b"/?!\r\n"
MODE_C = {"0": 300, "1": 600, "2": 1_200, "3": 2_400, "4": 4_800, "5": 9_600, "6": 19_200}
MODE_B = {"A": 600, "B": 1_200, "C": 2_400, "D": 4_800, "E": 9_600, "F": 19_200}
FIRST_BAUD = 300

_REACTION_S = 0.25
"""From the identification to the acknowledgement: at least 200 ms, and 1.5 s at most. A meter that sends by itself has
gone on by then."""
_GAP_S = 2.0
"""Silence within a telegram that means it broke off (the standard allows 1.5 s between characters)."""
_REST_S = 2.0
"""How long a meter is left alone after a fault: by then it listens at its first speed again."""
_UNASKED_S = 11.0
"""The slowest telegrams that meters send by themselves come every ten seconds."""
_CHARACTER_BITS = 10


class _Waiting(StrEnum):
    """See the module's table."""

    NOTHING = "nothing"
    ANSWER = "answer"
    DATA = "data"


class TelegramListener:
    """Fulfils ``drivers.listening.listener.Listener`` for IEC 62056-21.

    Args:
        stream: the open stream.
        settings: its bus.

    """

    whole = True

    def __init__(self, stream: ByteStream, settings: BusSettings) -> None:
        self._stream, self._settings = stream, settings
        now_s = monotonic()
        self._first_s = settings.timeout_s if settings.baud == FIRST_BAUD else max(settings.timeout_s, _UNASKED_S)
        self._patience = Patience(settings.timeout_s, self._first_s, now_s)
        self._waiting = _Waiting.NOTHING
        self._asks, self._checked = True, False
        self._missed = False  # the last sign-on was not answered
        self._looked_s = now_s
        self._due_s = self._asked_s = now_s
        self._came_s = float("-inf")
        self._data = b""
        self._ack = b""
        self._named: Identification | None = None

    def listen(self, wait_s: float) -> Fields | None:
        """Give the next telegram; see ``Listener``."""
        if self._asks and self._waiting is _Waiting.NOTHING and self._may_sign_on(monotonic()):
            self._sign_on()
        came = self._stream.read(min(wait_s, _REACTION_S / 4) if self._waiting is _Waiting.ANSWER else wait_s)
        now_s = monotonic()
        stalled, self._looked_s = now_s - self._looked_s > STALLED_S, now_s
        if stalled:
            empty(self._stream)
            self._data = b""
            self._rest(now_s)
        elif came:
            self._data += came
            self._came_s = now_s
        fields = self._take_unasked(now_s)
        if fields is None and self._waiting is not _Waiting.NOTHING:
            fields = self._take_answer(now_s)
        if fields is None:
            self._give_up(now_s)
        return fields

    def close(self) -> None:
        """Close the stream."""
        self._stream.close()

    def _may_sign_on(self, now_s: float) -> bool:
        """Say whether a sign-on is due and no telegram is coming in."""
        return now_s >= self._due_s and now_s - self._came_s > 2 * _REACTION_S

    def _sign_on(self) -> None:
        self._data, self._ack, self._named = b"", b"", None
        self._stream.write(SIGN_ON)
        self._asked_s = monotonic()
        self._due_s = self._asked_s + self._settings.interval_s
        self._waiting = _Waiting.ANSWER

    def _take_unasked(self, now_s: float) -> Fields | None:
        """Give a telegram in the form in which meters send by themselves, if there is one."""
        if self._named is not None and self._waiting is _Waiting.DATA:
            return None
        try:
            found = unasked(self._data, check_needed=self._checked)
        except Corrupt as corrupt:
            self._data = self._data[end_of_unasked(self._data) :]
            self._rest(now_s)
            raise self._told(corrupt) from None
        if found is None:
            return None
        fields, checked, end = found
        self._data = self._data[end:]
        self._checked |= checked
        if checked or self._waiting is _Waiting.NOTHING:
            self._asks = False
        self._waiting = _Waiting.NOTHING
        self._patience.heard(now_s)
        return fields

    def _take_answer(self, now_s: float) -> Fields | None:
        """Go on with the dialogue; give the telegram once it is complete."""
        if self._waiting is _Waiting.ANSWER:
            named = identification(self._data)
            if named is None or (len(self._data) == named.end and now_s - self._came_s < _REACTION_S):
                return None
            follows = self._data[named.end :]
            if follows and not follows.lstrip(b"\r\n").startswith(b"\x02"):
                return None  # it goes on by itself, without STX: the form of ``unasked``
            self._named, self._data = named, follows
            self._change_speed(named)
            self._waiting = _Waiting.DATA
        data = self._data.removeprefix(self._ack)  # optical heads may echo what is sent
        try:
            found = answered(data)
        except Corrupt as corrupt:
            self._rest(now_s)
            raise self._told(corrupt) from None
        if found is None:
            return None
        fields, checked = found
        if self._checked and not checked:
            self._rest(now_s)
            raise Corrupt(f"{self._settings.where}: the telegram came without the check that this meter sends")
        self._checked |= checked
        self._finish()
        self._missed, self._first_s = False, self._settings.timeout_s
        self._patience.heard(now_s)
        return fields

    def _change_speed(self, named: Identification) -> None:
        """Do what the identification asks for: modes A, B and C."""
        if self._data:
            return  # the data follow at the first speed already
        if named.speed in MODE_C:
            speed = named.speed if self._stream.changes_speed else self._own_speed()
            self._ack = f"\x060{speed}0\r\n".encode("ascii")
            self._stream.write(self._ack)
            self._stream.speed(MODE_C[speed])
        elif named.speed in MODE_B:
            self._stream.speed(MODE_B[named.speed])
        self._came_s = monotonic()

    def _own_speed(self) -> str:
        """Give the character of the bus's own speed, where the line behind a gateway can't change it."""
        return next((letter for letter, baud in MODE_C.items() if baud == self._settings.baud), "0")

    def _give_up(self, now_s: float) -> None:
        """Tell what has taken too long, or is too long.

        Raises:
            Corrupt: a telegram broke off, or what came is none.
            Silent: nothing came.

        """
        where = self._settings.where
        if self._waiting is _Waiting.DATA and now_s - self._came_s > _GAP_S + self._settings.timeout_s:
            began = self._data.removeprefix(self._ack)
            self._rest(now_s)
            if began:
                raise Corrupt(f"{where}: the telegram broke off after {len(began)} bytes; check baud rate and parity")
            raise Silent(f"{where}: the meter said who it is and sent no data")
        if len(self._data) > LONGEST:
            self._rest(now_s)
            raise Corrupt(f"{where}: {LONGEST} bytes came that are no telegram; check baud rate and parity")
        if self._waiting is _Waiting.ANSWER and self._unanswered(now_s):
            self._finish()
            self._missed = True
        if self._waiting is _Waiting.NOTHING and self._is_silent(now_s):
            came, self._data, self._missed = len(self._data), b"", False
            self._patience.restart(now_s)
            if came:
                raise Corrupt(f"{where}: {came} bytes came that are no telegram; check baud rate and parity")
            raise Silent(f"{where}: no telegram came, and no answer to the sign-on")

    def _is_silent(self, now_s: float) -> bool:
        """Say whether the meter has been waited for long enough, by the way in which it sends."""
        if self._asks:
            return self._missed and now_s - self._patience.since_s >= self._first_s
        return self._patience.over(now_s)

    def _unanswered(self, now_s: float) -> bool:
        """Say whether the sign-on has had its time, and nothing is coming in."""
        sent_s = len(SIGN_ON) * _CHARACTER_BITS / self._settings.baud
        return now_s - max(self._asked_s + sent_s, self._came_s) > self._settings.timeout_s

    def _finish(self) -> None:
        """End a dialogue: back to the first speed."""
        self._waiting = _Waiting.NOTHING
        self._stream.speed(self._settings.baud)
        if self._named is not None:
            self._named, self._data = None, b""

    def _rest(self, now_s: float) -> None:
        """End a dialogue that went wrong, and leave the meter alone for a while."""
        self._finish()
        self._due_s = max(self._due_s, now_s + _REST_S)

    def _told(self, corrupt: Corrupt) -> Corrupt:
        return Corrupt(f"{self._settings.where}: {corrupt.detail}")
