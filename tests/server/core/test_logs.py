import logging
import sys

from server.core.logs import WithoutValues


def test_a_line_names_the_error_and_the_place_and_no_value():
    log = logging.getLogger("server.test")
    try:
        raise ValueError("reference 112 mg/dL of quiet-otter-12345")
    except ValueError:
        record = log.makeRecord(log.name, logging.ERROR, "", 1, "job %s failed", ("7",), exc_info=sys.exc_info())
    line = WithoutValues().format(record)
    assert "job 7 failed" in line
    assert "builtins.ValueError" in line
    assert "test_logs.py" in line
    assert "112" not in line
    assert "otter" not in line
