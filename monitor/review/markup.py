"""HTML and SVG as a tree: whatever text goes in comes out escaped."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias
from xml.etree import ElementTree as ET

from monitor.review.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

Child: TypeAlias = "ET.Element | str | None"


def tag(name: str, /, *children: Child, **attributes: object) -> ET.Element:
    """Give an element; an attribute's ``_`` stands for ``-``, ``class_`` for ``class``; None is left out."""
    given = {key.rstrip("_").replace("_", "-"): str(value) for key, value in attributes.items() if value is not None}
    element = ET.Element(name, given)
    for child in children:
        add(element, child)
    return element


def add(element: ET.Element, child: Child) -> None:
    """Put a child behind those an element has."""
    if child is None:
        return
    if isinstance(child, ET.Element):
        element.append(child)
    elif element.tag == "style":  # written as it is: only this package's own
        element.text = child
    elif len(element):
        element[-1].tail = (element[-1].tail or "") + plain(child)
    else:
        element.text = (element.text or "") + plain(child)


def table(heads: Sequence[str], rows: Iterable[Sequence[Child]], *, figures: Iterable[int] = ()) -> ET.Element:
    """Give a table, its heads repeated on each page; columns whose numbers are in ``figures`` stand to the right."""
    right = frozenset(figures)
    marks = ["r" if n in right else None for n in range(len(heads))]
    head = tag("tr", *(tag("th", text, class_=mark, scope="col") for text, mark in zip(heads, marks, strict=True)))
    body = tag("tbody")
    for row in rows:
        body.append(tag("tr", *(tag("td", cell, class_=mark) for cell, mark in zip(row, marks, strict=True))))
    return tag("table", tag("thead", head), body)


def listing(items: Iterable[Child]) -> ET.Element:
    """Give a list."""
    return tag("ul", *(tag("li", item) for item in items))


def html(root: ET.Element) -> str:
    """Write a whole document."""
    return "<!DOCTYPE html>\n" + ET.tostring(root, encoding="unicode", method="html") + "\n"
