from html.parser import HTMLParser

import pytest

from pooling.caution import CAUTION_TEXT
from pooling.cli.page import report_page
from pooling.columns import columns_from
from pooling.record import record_from
from pooling.report import wear_report


class Seen(HTMLParser):
    """Open tags must be closed in order; what is asked for from elsewhere is noted."""

    VOID = frozenset({"meta"})

    def __init__(self):
        super().__init__()
        self.open, self.elsewhere, self.text = [], [], ""

    def handle_starttag(self, tag, attrs):
        self.elsewhere += [value for name, value in attrs if name in {"src", "href"}]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text += data


@pytest.fixture
def seen(good_record):
    def of(unit="mg/dL"):
        record = record_from(good_record)
        page = Seen()
        page.feed(report_page(wear_report(columns_from(record), record), unit, "<svg></svg>"))
        assert page.open == []
        return page

    return of


def test_the_page_holds_words_figures_limits_and_the_whole_caution(seen):
    page = seen()
    assert page.elsewhere == []
    assert "What one wear on the flank says" in page.text
    assert "average difference (MARD)" in page.text
    assert "One sensor is not the site" in page.text
    assert all(paragraph in page.text for paragraph in CAUTION_TEXT.split("\n"))
    assert "script" not in page.text


def test_the_page_speaks_the_readers_unit(seen):
    text = seen("mmol/L").text
    assert "sensor and fingerstick were 0.7 mmol/L apart" in text
    assert "mg/dL" not in text


def test_findings_stand_on_the_page(seen):
    assert "5 pairs can be counted." in seen().text
