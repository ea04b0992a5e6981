"""What may be typed into the line at the bottom: each check says what would do, or nothing."""

from __future__ import annotations

LONGEST_NAME = 30  # characters: it stands in the head line
LONGEST_TEXT = 300
MOST_MINUTES = 24 * 60  # the logger's own longest shelf


def why_no_name(text: str) -> str:
    """Say why the text is no name; empty where it is one."""
    if not text:
        return "A name is needed, for the log"
    return f"At most {LONGEST_NAME} characters" if len(text) > LONGEST_NAME else ""


def why_no_text(text: str) -> str:
    """Say why the text is no reason or note; empty where it is one."""
    return "" if text else "A few words are needed"


def why_no_minutes(text: str) -> str:
    """Say why the text is no number of minutes; empty where it is one."""
    fits = text.isdecimal() and 1 <= int(text) <= MOST_MINUTES
    return "" if fits else f"Whole minutes from 1 to {MOST_MINUTES}"


def why_no_minutes_or_none(text: str) -> str:
    """Say why the text is neither 0 nor a number of minutes; empty where it is one."""
    return "" if text.isdecimal() and int(text) == 0 else why_no_minutes(text)


def anything(_: str) -> str:
    """Take every text, an empty one too."""
    return ""
