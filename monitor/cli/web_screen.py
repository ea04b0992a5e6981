"""The dashboard for one browser: run by ``legwatch watch --web`` for each one that connects, never by a person."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from monitor.cli.errors import guarded
from monitor.cli.screen import open_dashboard
from monitor.recorder.attached import AttachedFeed


@guarded
def main(log_file: Path) -> None:
    """Open the dashboard on a log; textual-serve has said in the environment how it is drawn."""
    os.environ["COLORTERM"] = "truecolor"  # of the browser, whatever the server's own terminal shows
    open_dashboard(AttachedFeed(log_file), "close")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
