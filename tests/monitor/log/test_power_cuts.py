"""The power goes at any write or sync of the log: no damaged file, no acknowledged cycle lost, none in part.

What this proves: the writer asks for a sync where it must, and what SQLite finds on a disk that keeps its promise to
sync is every acknowledged cycle. What it doesn't prove: that a given disk or card keeps that promise.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.support import cutting
from tests.support.cutting import base_log, cut_once
from tests.support.measured import Measured

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

BATCHES, EACH = 8, 250


@pytest.fixture
def memory(tmp_path: Path) -> Iterator[Path]:
    """Give a folder in memory, where there is one: what a sync is worth is decided by the shim, not by this disk."""
    shared = Path("/dev/shm")  # noqa: S108 - the point of it
    with tempfile.TemporaryDirectory(dir=shared if shared.is_dir() else tmp_path) as name:
        yield Path(name)


@pytest.mark.parametrize("batch", range(BATCHES))
def test_no_cut_loses_what_was_acknowledged(
    memory: Path, batch: int, record_property: Callable[[str, object], None]
) -> None:
    """250 cuts a batch, 2,000 in all: sound, all acknowledged cycles whole, at most the one in hand beside them."""
    base = base_log(memory / "base.sqlite")
    lost = acknowledged = 0
    for seed in range(batch * EACH, (batch + 1) * EACH):
        folder = memory / str(seed)
        folder.mkdir()
        outcome = cut_once(folder, base, seed)
        assert outcome.sound == "ok", seed
        assert outcome.torn == 0, seed
        assert outcome.acknowledged <= outcome.found <= outcome.acknowledged + 1, seed
        assert outcome.opened_again, seed
        acknowledged += outcome.acknowledged
        lost += max(0, outcome.acknowledged - outcome.found)
    how = "unsynced writes dropped by sectors, below SQLite"
    Measured("power cut", how, EACH, lost, acknowledged, "acknowledged cycles").keep(record_property)


def test_the_shim_finds_a_writer_that_does_not_sync(memory: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The check can fail: with syncing turned off, acknowledged cycles are lost or the file is damaged."""
    monkeypatch.setattr(cutting, "SYNCHRONOUS", "OFF")
    base = base_log(memory / "base.sqlite")
    lost = 0
    for seed in range(60):
        folder = memory / str(seed)
        folder.mkdir()
        try:
            outcome = cut_once(folder, base, seed)
        except Exception:  # noqa: BLE001 - a damaged log may fail in any way, which is what is looked for
            lost += 1
            continue
        lost += outcome.found < outcome.acknowledged or outcome.sound != "ok"
    assert lost > 10
