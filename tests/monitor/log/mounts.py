"""Small disks of the tests' own."""

from __future__ import annotations

import contextlib
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING, Self

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator


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


class LoopDisk:
    """A disk of its own in a file (ext4 without a journal, 8 MB): it can be pulled out, put back, and made to fail.

    Args:
        folder: where the file and the mount point go.

    """

    def __init__(self, folder: Path) -> None:
        self._image, self.place = folder / "disk.img", folder / "disk"
        self.place.mkdir()
        with self._image.open("wb") as file:
            file.truncate(8 * 1024 * 1024)
        _or_skip(["mkfs.ext4", "-q", "-O", "^has_journal", self._image])
        found = _or_skip(["losetup", "--find", "--show", self._image])
        self._device = found.strip()
        try:
            self.put_in()
        except BaseException:
            self._let_go()
            raise

    def __enter__(self) -> Self:
        """Give it."""
        return self

    def __exit__(self, *_: object) -> None:
        """Take it away."""
        self.pull_out()
        self._let_go()

    def put_in(self) -> None:
        """Mount it."""
        _or_skip(["mount", "-o", "errors=remount-ro", self._device, self.place])

    def pull_out(self) -> None:
        """Take its name away under whoever has files open on it."""
        subprocess.run(["umount", "--lazy", self.place], check=True)

    def fail(self) -> None:
        """Let the kernel find a fault on it, and make it read-only as it does then, until it is pulled out."""
        name = self._device.rpartition("/")[2]
        assert name.startswith("loop")
        Path(f"/sys/fs/ext4/{name}/trigger_fs_error").write_text("tests", encoding="ascii")

    def _let_go(self) -> None:
        subprocess.run(["losetup", "--detach", self._device], check=False)


def _or_skip(words: list[str | Path]) -> str:
    try:
        done = subprocess.run(words, capture_output=True, text=True, check=False)
    except FileNotFoundError:
        pytest.skip(f"there is no {words[0]} here")
    if done.returncode:
        pytest.skip(f"{words[0]}: {done.stderr.strip()}")
    return done.stdout
