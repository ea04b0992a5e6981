"""The reports as documents: self-contained, escaped, with what a reader needs and nothing that misleads."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import TYPE_CHECKING

import pytest

from monitor.log.reader import LogReader
from monitor.review.fuel_report import fuel_report
from monitor.review.incident_report import incident_report
from monitor.review.parts import Origin
from monitor.review.shift_report import shift_report
from monitor.review.then import show_at
from tests.monitor.log.logs import BEGIN_MS
from tests.monitor.review.logs import SECONDS, evening
from tests.monitor.review.test_telling import NEVER

if TYPE_CHECKING:
    from pathlib import Path

STRETCH = (BEGIN_MS, BEGIN_MS + 1000 * SECONDS)
VOID = {"meta", "br", "hr", "img", "link", "input"}


class Page(HTMLParser):
    """What an HTML parser makes of a document.

    Attributes:
        text: of everything but the style.
        problems: elements that were not closed in order.
        values: of every attribute, as (element, attribute, value).

    """

    def __init__(self, document: str) -> None:
        super().__init__()
        self.text, self.problems = "", list[str]()
        self.values: list[tuple[str, str, str]] = []
        self._open: list[str] = []
        self.feed(document)
        self.close()
        self.problems += self._open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Take a begin."""
        self.values += [(tag, name, value or "") for name, value in attrs]
        if tag not in VOID:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """Take an end."""
        if not self._open or self._open.pop() != tag:
            self.problems.append(tag)

    def handle_data(self, data: str) -> None:
        """Take text."""
        if "style" not in self._open:
            self.text += f" {data}"


@pytest.fixture(scope="module")
def documents(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Give each report of the evening."""
    log: Path = evening(tmp_path_factory.mktemp("reports"))
    with LogReader(log) as reader:
        then = show_at(reader, None, "log")
        origin = Origin("log.sqlite", then, None, "0.1.0", "0.1.0", BEGIN_MS + 2_000_000)
        first, second = reader.incidents()
        return {
            "trip": incident_report(reader, first, origin),
            "silent": incident_report(reader, second, origin),
            "shift": shift_report(reader, STRETCH, origin),
            "fuel": fuel_report(reader, STRETCH, origin),
        }


REPORTS = ("trip", "silent", "shift", "fuel")


@pytest.mark.parametrize("name", REPORTS)
def test_nothing_comes_from_outside(documents: dict[str, str], name: str) -> None:
    """No address, no script, no file: what is opened offline is all there is."""
    document = documents[name]
    assert not re.search(r"https?:|//[a-z]|url\(|@import|<script|<link|<img|<iframe", document)
    assert [value for _, attribute, value in Page(document).values if attribute in {"src", "href", "xlink:href"}] == []


@pytest.mark.parametrize("name", REPORTS)
def test_the_document_is_well_formed_and_what_people_wrote_is_text(documents: dict[str, str], name: str) -> None:
    """Every element closes in order; the show's name with its angle brackets stays a name."""
    page = Page(documents[name])
    assert page.problems == []
    assert "Weir <house> & lock" in page.text
    assert "<house>" not in documents[name]


@pytest.mark.parametrize("name", REPORTS)
def test_cautions_origin_and_gaps_are_in_every_report(documents: dict[str, str], name: str) -> None:
    """What it is not, which show file and software, which meter at which map, and what is missing."""
    text = Page(documents[name]).text
    assert "no protective device" in text
    assert "SHA-256" in text
    assert "written by legwatch 0.1.0" in text
    assert "rs485, unit 1" in text
    assert "three-channel" in text
    assert "What happened in these times is not known" in text
    assert NEVER.search(re.sub(r"life-safety", "", text)) is None


def test_an_incident_has_its_evidence_readings_and_people(documents: dict[str, str]) -> None:
    """For and against, alternatives, the last load on, raw rows, alarms with who, plan against measured."""
    text = " ".join(Page(documents["trip"]).text.split())
    assert "Incident 1 at A1 (Key side)" in text
    assert "It may also have been: opened-cause-not-shown" in text
    assert "Speaks against it no other place fell in the same second" in text
    assert "Fan heater, not in the plan" in text
    assert "2026-09-21T11:23:59.000-03:00 A1 119.5 22.5 60 2688.8 good" in text
    assert "2026-09-21T11:24:00.000-03:00 A1 0 0 0 good" in text
    assert "acknowledged Ada" in text
    assert "A1 Key side 22.5 10.0 +12.5 16 20, UL 489 119.5" in text
    assert "Noor note A1 moved the heater" in text


def test_plots_leave_gaps_open(documents: dict[str, str]) -> None:
    """The forty seconds without readings: two lines and not one, and a hatched field between them."""
    picture = re.search(r"<svg[^>]*><title>A1: volts.*?</svg>", documents["trip"], re.DOTALL)
    assert picture is not None
    lines = [
        [float(corner.split(",")[0]) for corner in points.split()]
        for points in re.findall(r'<polyline points="([^"]*)"', picture[0])
    ]
    assert len(lines) == 2
    gap = re.search(r'<rect x="([\d.]+)" y="\d+" width="([\d.]+)"[^>]*class="gap"', picture[0])
    assert gap is not None
    left, wide = float(gap[1]), float(gap[2])
    assert max(lines[0]) <= left + 1
    assert min(lines[1]) >= left + wide - 1


def test_a_shift_lists_circuits_against_their_plan(documents: dict[str, str]) -> None:
    """Means and extremes over what was read; nothing planned is a dash; unplanned loads by themselves."""
    text = " ".join(Page(documents["shift"]).text.split())
    assert "2 incidents; 1 alarm raised; 1 load came on and fit no planned load." in text
    assert re.search(r"A1 Key side 10\.0 \d+\.\d 22\.5 16 20 3 0\.0 119\.5", text)
    assert re.search(r"A2 - 10\.0 10\.0 16 20 0 119\.5 119\.5", text)
    assert "Nearest to its rating, or furthest above it: A1, 22.5 A in one reading" in text


def test_fuel_says_what_it_rests_on(documents: dict[str, str]) -> None:
    """8 kW of rated 20: 2 kWh in a quarter-hour less the gap; an estimate while no two refuels calibrate it."""
    text = " ".join(Page(documents["fuel"]).text.split())
    assert "8.0 kW on average, 8.0 kW in the highest minute" in text
    assert re.search(r"energy 1\.[89]\d* kWh", text)
    assert "An estimate" in text
    assert "Ada 40 - to the <brim>" in text
    assert "40 litres were added in 1 refuel." in text
    assert "source/L1 40.0 to 40.0 120.0 to 120.0 60.0 to 60.0" in text
    assert "time under 30 % of the rating 0 s" in text
