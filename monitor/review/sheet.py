"""The paper that every report is written on: one HTML document without outside references, for screens and printers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.cautions import FULL
from monitor.review.markup import Child, html, listing, tag

if TYPE_CHECKING:
    from collections.abc import Iterable
    from xml.etree.ElementTree import Element

_STYLE = """
:root { color-scheme: light; }
body { font: 15px/1.45 Georgia, "Times New Roman", serif; color: #111; background: #fff; max-width: 46rem;
  margin: 1.5rem auto; padding: 0 1rem; }
h1 { font-size: 1.5rem; line-height: 1.2; margin: 0 0 .3rem; }
h2 { font-size: 1.05rem; margin: 1.6rem 0 .4rem; border-bottom: 1px solid #111; }
p { margin: .4rem 0; } ul { margin: .3rem 0; padding-left: 1.2rem; }
.under { color: #444; } .short { border-left: 4px solid #111; padding-left: .8rem; }
table { border-collapse: collapse; font-size: .8rem; width: 100%; margin: .3rem 0 .6rem; }
th, td { text-align: left; vertical-align: top; padding: .12rem .5rem .12rem 0; border-bottom: 1px solid #ccc; }
td { overflow-wrap: anywhere; } th { border-bottom: 1px solid #111; vertical-align: bottom; }
.r { text-align: right; font-variant-numeric: tabular-nums; }
.rows { font-size: .7rem; line-height: 1.15; } .rows td { font-variant-numeric: tabular-nums; padding-bottom: 0; }
svg { display: block; width: 100%; height: auto; margin: .2rem 0 .7rem; break-inside: avoid; }
svg text { font: 9px Helvetica, Arial, sans-serif; fill: #111; } svg .name { font-size: 11px; font-weight: bold; }
.mid { text-anchor: middle; } .end { text-anchor: end; }
.grid { stroke: #ddd; stroke-width: .6; } .axis { stroke: #111; stroke-width: .8; }
.fig { fill: none; stroke: #111; stroke-width: 1.1; } .dot { fill: #111; } .reach { fill: #bbb; stroke: none; }
.limit { stroke: #111; stroke-width: 1; stroke-dasharray: 7 3; } .plan { stroke: #111; stroke-width: 1;
  stroke-dasharray: 1.5 3; }
.gap { fill: #f2f2f2; } .hatch { stroke: #999; stroke-width: .4; }
.step { stroke: #555; stroke-width: .7; stroke-dasharray: 2 2; } .alarm { stroke: #111; stroke-width: .7; }
.incident { stroke: #111; stroke-width: 1.8; }
.cautions { font-size: .85rem; border: 1px solid #111; padding: .3rem .8rem; margin-top: 1.6rem; break-inside: avoid; }
@media screen and (max-width: 40rem) { table { display: block; overflow-x: auto; } }
@page { margin: 16mm 14mm; }
@media print { body { max-width: none; margin: 0; padding: 0; font-size: 10.5pt; }
  h2 { break-after: avoid; } tr, li { break-inside: avoid; } thead { display: table-header-group; } }
"""
_NO_OUTSIDE = "default-src 'none'; style-src 'unsafe-inline'"


def document(title: str, under: str, sections: Iterable[Element]) -> str:
    """Give a whole report.

    Args:
        title: what it is about.
        under: one line below the title: show, span, who made it.
        sections: see ``section``.

    """
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", http_equiv="Content-Security-Policy", content=_NO_OUTSIDE),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("title", title),
        tag("style", _STYLE),
    )
    body = tag("body", tag("h1", title), tag("p", under, class_="under"), *sections, _cautions())
    return html(tag("html", head, body, lang="en"))


def section(title: str, *children: Child) -> Element:
    """Give a section; bare text becomes a paragraph."""
    return tag("section", tag("h2", title), *(tag("p", c) if isinstance(c, str) else c for c in children))


def _cautions() -> Element:
    return tag("section", tag("h2", "What this report is not"), listing(FULL), class_="cautions")
