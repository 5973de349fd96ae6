"""A wear's own report: what it says, what is odd about it, and what one wear cannot say."""

from pooling.report.document import in_words, wear_report

__all__ = ["in_words", "wear_report"]
