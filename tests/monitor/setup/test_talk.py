"""A conversation that goes back, is left and taken up again."""

from __future__ import annotations

import pytest

from monitor.setup.talk import Entry, Question, Quit, Talk


class Script:
    """Types what a list says; ends the conversation where it ends."""

    def __init__(self, *typed: str) -> None:
        self.typed = list(typed)
        self.asked: list[Question] = []
        self.told: list[str] = []
        self.looked: list[str] = []

    def ask(self, question: Question) -> str:
        """Type the next line."""
        self.asked.append(question)
        if not self.typed:
            raise Quit
        return self.typed.pop(0)

    def tell(self, text: str) -> None:
        """Keep a line."""
        self.told.append(text)

    def looking(self, what: str) -> None:
        """Keep what is looked for."""
        self.looked.append(what)


def dialogue(talk: Talk) -> tuple[str, int, bool, int]:
    """Ask three things and look for one between."""
    talk.tell("begin")
    name = talk.ask("name", str, "nobody")

    def look() -> int:
        looks.append(name)
        return len(looks)

    looked = talk.found("wire", look)
    count = talk.ask("count", int, None)
    return name, count, talk.yes("sure", default=None), looked


looks: list[str] = []


@pytest.fixture(autouse=True)
def _no_looks() -> None:
    looks.clear()


def test_straight_through() -> None:
    """Enter takes a default; what must be typed is asked for again; a wrong answer says why."""
    script = Script("", "", "two", "2", "maybe", "y")
    assert Talk(script, lambda _: None).run(dialogue) == ("nobody", 2, True, 1)
    assert script.told == ["begin"]
    assert [question.fault for question in script.asked if question.fault] == [
        'please type something, or "back" or "quit"',
        "invalid literal for int() with base 10: 'two'",
        "type y or n",
    ]


def test_back_asks_the_question_before_and_keeps_the_rest() -> None:
    """Two steps back from the third question, past what was found: all is asked anew from there, told once."""
    script = Script("Ada", "2", "back", "back", "Bea", "3", "y")
    assert Talk(script, lambda _: None).run(dialogue) == ("Bea", 3, True, 2)
    assert script.told == ["begin", "begin"]
    assert looks == ["Ada", "Bea"]


def test_back_one_step_does_not_look_again() -> None:
    """Going back behind what was found keeps it."""
    script = Script("Ada", "2", "back", "5", "n")
    assert Talk(script, lambda _: None).run(dialogue) == ("Ada", 5, False, 1)
    assert looks == ["Ada"]


def test_quit_and_go_on_another_day() -> None:
    """Every answer is kept at once; the next conversation begins where this one ended."""
    kept: list[Entry] = []
    with pytest.raises(Quit):
        Talk(Script("Ada", "2", "quit"), lambda journal: kept.__setitem__(slice(None), journal)).run(dialogue)
    later = Script("y")
    assert Talk(later, lambda _: None, Talk.kept(kept)).run(dialogue) == ("Ada", 2, True, 1)
    assert [question.words for question in later.asked] == ["sure (y/n)"]
    assert later.asked[0].given == ("name: Ada", "count: 2")


def test_what_was_found_last_is_looked_for_again_another_day() -> None:
    """Live values behind the last answer are not taken from yesterday."""
    kept = [Entry("answer", "name", "Ada"), Entry("found", "wire", 77)]
    assert Talk(Script("2", "y"), lambda _: None, Talk.kept(kept)).run(dialogue) == ("Ada", 2, True, 1)


@pytest.mark.parametrize(
    "journal",
    [
        [Entry("answer", "another question", "x"), Entry("answer", "count", "9")],
        [Entry("answer", "name", "Ada"), Entry("found", "wire", 1), Entry("answer", "count", "no number")],
    ],
)
def test_a_journal_that_no_longer_fits_is_dropped_from_there(journal: list[Entry]) -> None:
    """A dialogue that asks otherwise now: asked from the first difference on."""
    script = Script(*(["Ada"] if journal[0].question != "name" else []), "4", "y")
    assert Talk(script, lambda _: None, journal).run(dialogue)[:3] == ("Ada", 4, True)


def test_leaving_takes_the_last_answer_off() -> None:
    """What ends the conversation is asked again, not taken for answered."""
    kept: list[Entry] = []

    def leaving(talk: Talk) -> None:
        talk.ask("name", str)
        talk.yes("stop here")
        talk.leave()

    with pytest.raises(Quit):
        Talk(Script("Ada", "y"), lambda journal: kept.__setitem__(slice(None), journal)).run(leaving)
    assert [entry.question for entry in kept] == ["name"]
