import xml.etree.ElementTree as ET

from pooling.report.markup import drawing, el, page


def test_text_never_becomes_markup():
    made = page(el("html", el("p", "<script>&", title='"')))
    assert "<script>" not in made
    assert "&lt;script&gt;&amp;" in made


def test_parts_keep_their_order():
    text = ET.tostring(el("p", "a", [el("b", "c"), "d"], "e", el("i"), "f"), encoding="unicode", method="html")
    assert text == "<p>a<b>c</b>de<i></i>f</p>"


def test_a_per_cent_sign_stays_with_its_number():
    assert "5\N{NO-BREAK SPACE}%" in page(el("html", "5 %"))


def test_a_drawing_is_named_by_its_finding_and_needs_no_namespace():
    svg = '<svg xmlns="http://www.w3.org/2000/svg" role="x" aria-label="y"><g aria-label="z"><path d="M0"/></g></svg>'
    made = ET.tostring(drawing(svg, "what it shows"), encoding="unicode", method="html")
    assert made == (
        '<div class="plot" role="img" aria-label="what it shows"><svg aria-hidden="true"><g><path d="M0"></path></g>'
        "</svg></div>"
    )
