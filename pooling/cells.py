"""Text cells of the CSV files that leave here: every one goes through `inert`."""

# A cell that starts with one of these may be run as a formula when a sheet is opened (OWASP, "CSV Injection"; from
# memory).
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


def inert(text: str) -> str:
    """The text as a cell that no spreadsheet runs: with an apostrophe before it if it could be taken for a formula.

    It is for words. A number is written as a number and keeps its minus sign.

    Examples
    --------
    >>> inert("=SUM(A1:A9)"), inert("upper arm")
    ("'=SUM(A1:A9)", 'upper arm')
    """
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text
