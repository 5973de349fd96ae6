"""Elements of a page, built as a tree so that no text can turn into markup."""

import xml.etree.ElementTree as ET
from collections.abc import Iterable
from typing import Final

from pooling.tongue import Say

Part = str | ET.Element
_NOT_SAID: Final = ("style", "svg")


def el(tag: str, /, *content: Part | Iterable[Part], **attributes: str) -> ET.Element:
    """An element with its content in order; in attribute names `_` stands for `-`, and a last one is dropped.

    Examples
    --------
    >>> ET.tostring(el("p", "1 < 2, ", el("b", "so"), " there", class_="x"), encoding="unicode", method="html")
    '<p class="x">1 &lt; 2, <b>so</b> there</p>'
    """
    made = ET.Element(tag, {key.rstrip("_").replace("_", "-"): value for key, value in attributes.items()})
    for part in content:
        for one in [part] if isinstance(part, str | ET.Element) else part:
            _append(made, one)
    return made


def _append(parent: ET.Element, part: Part) -> None:
    if isinstance(part, ET.Element):
        parent.append(part)
    elif len(parent):
        parent[-1].tail = (parent[-1].tail or "") + part
    else:
        parent.text = (parent.text or "") + part


def drawing(svg: str, finding: str) -> ET.Element:
    """An SVG as it stands in a page, with what it shows as its name; the page needs none of its namespaces."""
    root = ET.fromstring(svg)  # noqa: S314  (our own drawing)  # nosec B314
    for element in root.iter():
        element.tag = element.tag.rpartition("}")[2]
        for name in [name for name in element.attrib if name.startswith(("aria-", "role", "{"))]:
            del element.attrib[name]
    root.set("aria-hidden", "true")
    return el("div", root, class_="plot", role="img", aria_label=finding)


def say_all(element: ET.Element, say: Say) -> None:
    """Say every text of a page, and every name of a picture, as `say` does; what is drawn was said before."""
    if element.tag in _NOT_SAID:
        return
    if label := element.get("aria-label"):
        element.set("aria-label", say(label))
    element.text = _said(element.text, say)
    for inner in element:
        say_all(inner, say)
        inner.tail = _said(inner.tail, say)


def _said(text: str | None, say: Say) -> str | None:
    return say(text) if text and text.strip() else text


def page(html: ET.Element) -> str:
    """The whole document; a per cent sign stays on the line of its number."""
    text = ET.tostring(html, encoding="unicode", method="html").replace(" %", "\N{NO-BREAK SPACE}%")
    return f"<!doctype html>\n{text}\n"
