"""A wear's own report: what it says, what is odd about it, and what one wear cannot say."""

from pooling.report.document import wear_report
from pooling.report.figures import headline
from pooling.report.licence import LicensedSite
from pooling.report.page import report_html
from pooling.report.picture import report_png
from pooling.report.words import in_words

__all__ = ["LicensedSite", "headline", "in_words", "report_html", "report_png", "wear_report"]
