"""What people ask of the logger from a screen, question by question. Nothing here decides: the logger does."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual import work
from textual.app import App

from monitor.dashboard import words
from monitor.dashboard.alarmscreen import AlarmsScreen
from monitor.dashboard.bell import MINUTE_MS, Bell
from monitor.dashboard.clerk import ANSWER_S, Clerk, make
from monitor.dashboard.entries import (
    MOST_LITRES,
    anything,
    litres_in,
    why_no_litres,
    why_no_minutes,
    why_no_minutes_or_none,
    why_no_name,
    why_no_text,
)
from monitor.dashboard.needs import asks, why_not
from monitor.dashboard.screens import PowerScreen
from monitor.dashboard.session import Mute, Session

if TYPE_CHECKING:
    from textual.timer import Timer

    from monitor.dashboard.foot import Check
    from monitor.engine.requests import Desk, Kind, Request
    from monitor.engine.snapshot import AlarmView, Snapshot

STAYS_S = 10.0  # a sentence stays so long


class AskingApp(App[None]):
    """An app in which people ask things of the logger.

    Args:
        snapshot: at the start.
        desk: where requests go; None where this screen can only watch.
        ansi_color: whether the terminal's own colours are used.

    Attributes:
        who: the name that stands on requests, asked for once; empty until then.

    """

    def __init__(self, snapshot: Snapshot, desk: Desk | None, *, ansi_color: bool) -> None:
        super().__init__(ansi_color=ansi_color)
        self.who = ""
        self.snapshot = snapshot
        self.clerk = Clerk(desk)
        self.ringer = Bell(snapshot)
        self._quiet: Timer | None = None

    @property
    def session(self) -> Session:
        """What holds for this screen now."""
        return Session(self.who, self.ringer.muted(self.snapshot.time_ms), self.clerk.can_ask)

    def say(self, text: str) -> None:
        """Show a sentence above the keys for a while."""
        if self._quiet is not None:
            self._quiet.stop()
        for screen in self.screen_stack:
            if isinstance(screen, PowerScreen):
                screen.foot.say(text)
        stays_s = ANSWER_S if self.clerk.waiting else STAYS_S
        self._quiet = self.set_timer(stays_s, self._time_is_up) if text else None

    async def ask(self, question: str, why_not: Check, given: str = "") -> str | None:
        """Put a question on the screen in front; give the answer, or None where it was left."""
        screen = self.screen
        return await screen.foot.ask(question, why_not, given) if isinstance(screen, PowerScreen) else None

    async def named(self) -> str:
        """Give the name that stands on requests, asking for it once; empty where the question was left."""
        return self.who or await self._ask_name()

    def hand_in(self, *requests: Request) -> None:
        """Hand in requests, and say so or why not."""
        self.say(self.clerk.hand_in(self.snapshot.logger, *requests))

    def follow(self) -> None:
        """Say what the logger answered; stop waiting once the Snapshot shows what was asked."""
        answer = self.clerk.answers(self.snapshot)
        if answer:
            self.say(answer)
        elif self.clerk.follow(self.snapshot):
            self.say("")

    def action_acknowledge(self) -> None:
        """Acknowledge the chosen alarm."""
        self._begin("acknowledge")

    def action_unshelve(self) -> None:
        """Take the chosen alarm off the shelf."""
        self._begin("unshelve")

    def action_reset(self) -> None:
        """Reset the chosen alarm."""
        self._begin("reset")

    def action_shelve(self) -> None:
        """Shelve the chosen alarm: who, why, how long."""
        self._begin("shelve")

    @work
    async def action_acknowledge_all(self) -> None:
        """Acknowledge every alarm on the list that nobody has acknowledged, after asking once more."""
        alarms = [alarm for alarm in self.snapshot.alarms if asks(alarm)]
        if not self._can_begin("" if alarms else "Every alarm has been acknowledged."):
            return
        who = await self.named()
        many = f"all {len(alarms)}" if len(alarms) > 1 else "one alarm"
        if who and await self.ask(f"Acknowledge {many} as {who}?", anything) is not None:
            self.hand_in(*(_about("acknowledge", who, alarm) for alarm in alarms))

    @work
    async def action_note(self) -> None:
        """Write a note, about the chosen place or one that is asked for."""
        place = self.screen.place if isinstance(self.screen, PowerScreen) else ""
        if not self._can_begin() or not (who := await self.named()):
            return
        if not place:
            answer = await self.ask("Note about which place (Enter: all)?", self._why_no_place)
            if answer is None:
                return
            place = answer
        text = await self.ask(f"Note on {place}:" if place else "Note:", why_no_text)
        if text:
            self.hand_in(make("note", who, text=text, where=place))

    @work
    async def action_refuel(self) -> None:
        """Write a refuel down: how many litres went in, who filled, what else belongs to it."""
        reason = "" if self.snapshot.source.fuel is not None else "The show gives no fuel points: fuel is not watched."
        if not self._can_begin(reason):
            return
        litres = litres_in(await self.ask("Litres filled in (tank now full):", self._why_no_litres) or "")
        if litres is None or not (who := await self.named()):
            return
        text = await self.ask(f"{litres:g} l by {who}. Docket or remark (Enter: none):", anything)
        if text is not None:
            self.hand_in(make("refuel", who, where="source", text=text, amount=litres, quantity="litres"))

    @work
    async def action_name(self) -> None:
        """Change the name that stands on requests."""
        await self._ask_name()

    @work
    async def action_mute(self) -> None:
        """Keep the bell of this screen quiet for some minutes, with a name on it."""
        if not (who := await self.named()):
            return
        minutes = await self.ask("Mute for how many minutes (0: ring)?", why_no_minutes_or_none)
        if minutes is None:
            return
        until_ms = self.snapshot.time_ms + int(minutes) * MINUTE_MS
        self.ringer.mute = Mute(until_ms, who) if int(minutes) else None
        self.redraw()
        done = (
            f"bell muted for {int(minutes)} minutes on one screen" if int(minutes) else "bell rings on one screen again"
        )
        if self.clerk.why_not(self.snapshot.logger):
            self.say(f"{done}; this is not in the log")
        else:
            self.hand_in(make("note", who, text=done))

    def redraw(self) -> None:
        """Draw every screen anew."""
        raise NotImplementedError

    def _begin(self, kind: Kind) -> None:
        """Begin what concerns the alarm that is chosen now, whatever the list does meanwhile."""
        alarm = self.screen.chosen if isinstance(self.screen, AlarmsScreen) else None
        if alarm is None:
            self.say("No alarm is chosen: ▲▼ choose one.")
        elif self._can_begin(why_not(kind, alarm)):
            self._ask_about(kind, alarm)

    @work
    async def _ask_about(self, kind: Kind, alarm: AlarmView) -> None:
        who = await self.named()
        if who and kind == "shelve":
            why = await self.ask(f"Why shelve {alarm.code} at {alarm.where}?", why_no_text)
            minutes = await self.ask("For how many minutes?", why_no_minutes) if why else None
            if why and minutes:
                self.hand_in(_about(kind, who, alarm, text=why, minutes=float(minutes)))
        elif who:
            self.hand_in(_about(kind, who, alarm))

    def _can_begin(self, reason: str = "") -> bool:
        reason = self.clerk.why_not(self.snapshot.logger) or reason
        self.say(reason)
        return not reason

    async def _ask_name(self) -> str:
        who = await self.ask("Your name, for the log:", why_no_name, self.who)
        self.who = who or self.who
        self.redraw()
        return who or ""

    def _why_no_place(self, text: str) -> str:
        return "" if not text or text in words.places(self.snapshot) else "No such circuit, box or source"

    def _why_no_litres(self, text: str) -> str:
        fuel = self.snapshot.source.fuel
        return why_no_litres(text, MOST_LITRES if fuel is None else fuel.tank_litres)

    def _time_is_up(self) -> None:
        self.say(self.clerk.overdue())


def _about(kind: Kind, who: str, alarm: AlarmView, **parts: str | float) -> Request:
    return make(kind, who, code=alarm.code, where=alarm.where, **parts)
