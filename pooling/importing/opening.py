"""Any export → its tables."""

from pooling.errors import InvalidInput
from pooling.importing.limits import MAX_BYTES, refuse_above
from pooling.importing.sections import sections
from pooling.importing.text import read_text
from pooling.importing.types import Sheet
from pooling.importing.workbook import read_workbook

_OTHERS = (
    (b"\xd0\xcf\x11\xe0", "an old or locked workbook; save it without a password as .xlsx or .ods"),
    (b"%PDF", "a page for printing; export the readings as CSV, .xlsx or .ods"),
    (b"\x1f\x8b", "packed; unpack it first"),
    (b"{", "JSON; export the readings as CSV, .xlsx or .ods"),
    (b"<", "a web page or XML; export the readings as CSV, .xlsx or .ods"),
)


def open_file(data: bytes, *, filename: str = "") -> tuple[Sheet, ...]:
    """The tables of an export.

    Parameters
    ----------
    data : bytes
        The file: delimited text in any code page, or a workbook (.xlsx, .ods). What it is is seen from its content.
    filename : str
        Only decides between a tab and another separator where the text leaves that open.

    Returns
    -------
    tuple of Sheet
        For text one a table, mostly one; for a workbook one a sheet that has anything in it.

    Raises
    ------
    InvalidInput
        If the file is empty, larger than `limits.MAX_BYTES`, of another kind, damaged, or holds more than the other
        limits allow.

    Examples
    --------
    >>> sheet, = open_file(b"time;glucose\\n2031-03-01 08:00;5,4\\n")
    >>> sheet.rows[1], sheet.lines
    (('2031-03-01 08:00', '5,4'), (1, 2))
    """
    refuse_above(len(data), MAX_BYTES, f"{len(data):,} bytes", "export a shorter span")
    if not data.strip():
        raise InvalidInput("the file is empty; export it anew")
    if data.startswith(b"PK\x03\x04"):
        return read_workbook(data)
    for start, what in _OTHERS:
        if data.lstrip().startswith(start):
            raise InvalidInput(f"this file is {what}")
    sheet = read_text(data, filename)
    if not sheet.rows:
        raise InvalidInput("no cell of this file has anything in it; export it anew")
    return sections(sheet)
