"""Print the table of faults from what the tests measure. Run: python tests/bench/fault_table.py [TEST PATHS].

It runs the tests of faults and reads the rows out of pytest's report; nothing in it is typed by hand. What a failed
test measured is left out, and the exit code is pytest's.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.support.measured import KEY, Measured

ROOT = Path(__file__).resolve().parents[2]
DEFAULT = ("tests/faults", "tests/monitor/log/test_power_cuts.py")


def main() -> int:
    """Run the tests and print."""
    with tempfile.TemporaryDirectory() as name:
        report = Path(name) / "report.xml"
        words = [sys.executable, "-m", "pytest", "-q", f"--junitxml={report}", "-o", "junit_family=xunit1"]
        done = subprocess.run([*words, *(sys.argv[1:] or DEFAULT)], cwd=ROOT, stdout=sys.stderr, check=False)
        rows = measured(report)
    print("| fault | how injected | times tried | lost | recovered within |")
    print("|---|---|---|---|---|")
    for row in rows.values():
        print(row.row())
    return done.returncode


def measured(report: Path) -> dict[tuple[str, str, str], Measured]:
    """Give the rows of the tests that passed, those of one fault and way as one."""
    rows: dict[tuple[str, str, str], Measured] = {}
    for case in ET.parse(report).iter("testcase"):  # noqa: S314 - pytest's own report, just written
        if case.find("failure") is not None or case.find("error") is not None:
            continue
        for kept in case.iter("property"):
            if kept.get("name") == KEY:
                row = Measured.kept(kept.get("value", ""))
                key = (row.fault, row.how, row.what)
                rows[key] = rows[key].also(row) if key in rows else row
    return rows


if __name__ == "__main__":
    sys.exit(main())
