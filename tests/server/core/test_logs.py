import logging

from server.core.logs import WithoutValues


def _line_of(error: Exception) -> str:
    try:
        raise error
    except Exception:
        record = logging.getLogger("server.test").makeRecord(
            "server.test", logging.ERROR, "file", 1, "job %s failed", ("7",), exc_info=__import__("sys").exc_info()
        )
    return WithoutValues().format(record)


def test_a_line_names_the_error_and_the_place_and_no_value():
    line = _line_of(ValueError("reference 112 mg/dL of quiet-otter-12345"))
    assert "job 7 failed" in line
    assert "builtins.ValueError" in line
    assert "test_logs.py" in line
    assert "112" not in line
    assert "otter" not in line
