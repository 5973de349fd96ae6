import xml.etree.ElementTree as ET

from pooling.report.markup import drawing, el, page, say_all


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


def test_texts_and_names_of_pictures_are_said_and_what_is_drawn_is_not():
    drawn = el("svg", el("text", "drawn"))
    picture = el("div", drawn, aria_label="its name", role="img")
    html = el("html", el("style", "p {}"), el("p", "one ", el("b", "two"), " three"), picture, "\n")
    say_all(html, str.upper)
    text = ET.tostring(html, encoding="unicode", method="html")
    assert "<p>ONE <b>TWO</b> THREE</p>" in text
    assert '<div aria-label="ITS NAME" role="img"><svg><text>drawn</text></svg></div>' in text
    assert "<style>p {}</style>" in text
