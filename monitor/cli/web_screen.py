"""The dashboard for one browser: run by ``legwatch watch --web`` for each one that connects, never by a person."""

from __future__ import annotations

import os
import sys
import threading
import time
from pathlib import Path

from monitor.cli.errors import guarded
from monitor.cli.screen import open_dashboard
from monitor.recorder.attached import AttachedFeed

_LOOK_S = 1.0


def _end_with(parent: int) -> None:
    """End at once where the server has gone without a word: nobody is left to draw for."""
    while os.getppid() == parent:
        time.sleep(_LOOK_S)
    os._exit(0)  # Textual would go on, and nothing here is to be put in order


@guarded
def main(log_file: Path) -> None:
    """Open the dashboard on a log; textual-serve has said in the environment how it is drawn."""
    threading.Thread(target=_end_with, args=(os.getppid(),), daemon=True).start()
    os.environ["COLORTERM"] = "truecolor"  # of the browser, whatever the server's own terminal shows
    open_dashboard(AttachedFeed(log_file), "close")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
