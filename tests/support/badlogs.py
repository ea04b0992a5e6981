"""Logs that are damaged, cut, foreign or full of things no logger writes, by the hundred."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import random
    from collections.abc import Callable
    from pathlib import Path

    Damage = Callable[[Path, random.Random], None]

PAGE = 1024
_ODD: tuple[object, ...] = (None, "", "rubbish", "{", "[1]", b"\xff\xfe", -1, 2**53, -(2**60), 1e300, "🔥" * 50)


def cut(path: Path, dice: random.Random) -> None:
    """End the file early."""
    with path.open("r+b") as file:
        file.truncate(dice.randrange(path.stat().st_size))


def zeroed(path: Path, dice: random.Random) -> None:
    """Have pages of zeros, as a card that lost blocks has."""
    with path.open("r+b") as file:
        for _ in range(dice.randint(1, 6)):
            file.seek(dice.randrange(1, path.stat().st_size // PAGE) * PAGE)
            file.write(bytes(PAGE))


def flipped(path: Path, dice: random.Random) -> None:
    """Flip bits anywhere."""
    raw = bytearray(path.read_bytes())
    for _ in range(dice.choice((1, 10, 200))):
        raw[dice.randrange(len(raw))] ^= 1 << dice.randrange(8)
    path.write_bytes(raw)


def head(path: Path, dice: random.Random) -> None:
    """Write rubbish into the file's header."""
    raw = bytearray(path.read_bytes())
    for _ in range(dice.randint(1, 4)):
        raw[dice.randrange(100)] = dice.randrange(256)
    path.write_bytes(raw)


def swapped(path: Path, dice: random.Random) -> None:
    """Swap two pages."""
    raw = bytearray(path.read_bytes())
    one, other = (dice.randrange(1, len(raw) // PAGE) * PAGE for _ in range(2))
    raw[one : one + PAGE], raw[other : other + PAGE] = raw[other : other + PAGE], raw[one : one + PAGE]
    path.write_bytes(raw)


def bad_wal(path: Path, dice: random.Random) -> None:
    """Lay another program's rubbish beside the log as its WAL."""
    path.with_name(path.name + "-wal").write_bytes(dice.randbytes(dice.choice((10, 4_000, 40_000))))


def odd_values(path: Path, dice: random.Random) -> None:
    """Put values into rows that no logger writes."""
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("PRAGMA ignore_check_constraints = ON")
    for _ in range(dice.randint(1, 5)):
        table = dice.choice(_tables(db))
        column = dice.choice([row[1] for row in db.execute(f"PRAGMA table_info({table})")])
        one = f" WHERE {column} = (SELECT {column} FROM {table} ORDER BY random() LIMIT 1)"  # noqa: S608 - our own names
        chosen = dice.choice(("", one))
        try:
            db.execute(f"UPDATE {table} SET {column} = ?{chosen}", (dice.choice(_ODD),))  # noqa: S608 - as above
        except sqlite3.Error:
            continue  # SQLite itself keeps that one out
    db.close()


def lost_parts(path: Path, dice: random.Random) -> None:
    """Take away a table, a view, a column's rows or an index."""
    db = sqlite3.connect(path, isolation_level=None)
    kind, name = dice.choice(
        db.execute(
            "SELECT type, name FROM sqlite_master WHERE type IN ('table', 'view', 'index') AND sql <> ''"
        ).fetchall()
    )
    if kind == "table" and dice.random() < 0.5:
        db.execute(f"DELETE FROM {name}")  # noqa: S608 - as above
    else:
        db.execute(f"DROP {kind} {name}")
    db.close()


def foreign(path: Path, dice: random.Random) -> None:
    """Have something else altogether under the log's name."""
    path.unlink()
    kind = dice.randrange(5)
    if kind == 0:
        path.write_text("time,point,volts\n" * 40)
    elif kind == 1:
        path.mkdir()
    elif kind == 2:
        path.write_bytes(b"SQLite format 3\x00" + dice.randbytes(2_000))
    elif kind == 3:
        path.touch()
    else:
        db = sqlite3.connect(path)
        db.execute("CREATE TABLE guests (name)")
        db.close()


def newer(path: Path, dice: random.Random) -> None:
    """Have a log of a later version."""
    db = sqlite3.connect(path)
    db.execute(f"PRAGMA user_version = {dice.randint(50, 1_000)}")
    db.close()


def _tables(db: sqlite3.Connection) -> list[str]:
    return [name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]


WAYS: tuple[Damage, ...] = (cut, zeroed, flipped, head, swapped, bad_wal, odd_values, lost_parts, foreign, newer)
