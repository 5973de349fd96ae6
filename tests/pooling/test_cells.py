import pytest

from pooling.cells import inert
from pooling.importing import open_file


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n"])
def test_what_could_run_as_a_formula_gets_an_apostrophe(start):
    assert inert(f"{start}1+1") == f"'{start}1+1"


@pytest.mark.parametrize("text", ["", "thigh", " =1", "1-2", "'=1", "a@b", "−5"])
def test_all_else_stays(text):
    assert inert(text) == text


def test_it_is_done_once():
    assert inert(inert("@x")) == inert("@x")


def test_reading_an_export_runs_and_changes_nothing():
    (sheet,) = open_file(b"time,note\n2031-03-01 08:00,=1+1\n")
    assert sheet.rows[1][1] == "=1+1"
