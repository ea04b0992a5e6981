"""What a scenario file says, key by key. No ``from __future__ import annotations``: pydantic evaluates them."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from monitor.show.model import Load

Seconds = Annotated[float, Field(ge=0)]
Names = tuple[str, ...]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class Event(_Table):
    """What happens at one moment.

    Attributes:
        at: since the begin of the scenario [s].
        on: loads switched on, as ``circuit: load``.
        off: loads switched off.
        close: circuits whose breaker somebody closes.
        silent: meters that fall silent, as ``bus/unit``.
        answers: meters that answer again.

    """

    at: Seconds
    on: Names = ()
    off: Names = ()
    close: Names = ()
    silent: Names = ()
    answers: Names = ()


class Cycle(_Table):
    """A load that comes and goes by itself.

    Attributes:
        load: as ``circuit: load``.
        begin: first coming on [s]; the file's key is ``from``.
        to: last moment at which it may come on [s].
        on_seconds: on for [s].
        off_seconds: then off for [s].

    """

    load: str
    begin: Seconds = Field(alias="from")
    to: Seconds
    on_seconds: Annotated[float, Field(gt=0)]
    off_seconds: Annotated[float, Field(gt=0)]

    def events(self) -> list[Event]:
        """Write the cycle out."""
        out: list[Event] = []
        at = self.begin
        while at <= self.to:
            out += [Event(at=at, on=(self.load,)), Event(at=at + self.on_seconds, off=(self.load,))]
            at += self.on_seconds + self.off_seconds
        return out


class Extra(_Table):
    """A load that nobody planned."""

    circuit: str
    load: Load


class Script(_Table):
    """A whole scenario.

    Attributes:
        repeat_seconds: when it begins again [s].
        step_seconds: the model's step [s].
        seed: of the meters' small errors.
        set_volts: leg to neutral, to which the generator is set [V].
        extra: loads nobody planned.
        event: what happens.
        cycle: what comes and goes by itself.

    """

    repeat_seconds: Annotated[float, Field(gt=0)]
    step_seconds: Annotated[float, Field(gt=0, le=1)]
    seed: int
    set_volts: Annotated[float, Field(gt=0)]
    extra: tuple[Extra, ...] = ()
    event: tuple[Event, ...] = ()
    cycle: tuple[Cycle, ...] = ()

    def all_events(self) -> list[Event]:
        """Every event, those of the cycles written out, in the order of time."""
        events = [*self.event, *(event for cycle in self.cycle for event in cycle.events())]
        return sorted(events, key=lambda event: event.at)
