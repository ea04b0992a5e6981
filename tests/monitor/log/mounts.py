"""Small disks of the tests' own."""

from __future__ import annotations

import contextlib
import subprocess
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@contextlib.contextmanager
def tmpfs(place: Path, size: str) -> Iterator[Path]:
    """Mount a file system of ``size`` at ``place``; skip the test where that is not allowed."""
    place.mkdir()
    try:
        done = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", place], check=False)
    except FileNotFoundError:
        pytest.skip("there is no mount here")
    if done.returncode:
        pytest.skip("mounting a small disk takes root")
    try:
        yield place
    finally:
        subprocess.run(["umount", "--lazy", place], check=True)
