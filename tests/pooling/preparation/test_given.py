import pytest

from pooling.importing import Question
from pooling.preparation import Answers, Asked, Export, Prepared, prepare
from tests.pooling.preparation.files import drawn, told, two_files


def _asked(*, blocking):
    return Asked(None, Question("prompt", "Why?", (), (), blocking=blocking))


def test_wears_are_complete_when_nothing_they_depend_on_is_open():
    (wear,) = prepare(two_files(drawn()), told(drawn())).wears
    assert Prepared((), (_asked(blocking=False),), (wear,)).is_complete
    assert not Prepared((), (_asked(blocking=True),), (wear,)).is_complete
    assert not Prepared((), (), ()).is_complete


def test_the_offset_of_the_clocks_is_that_of_the_pairing():
    (wear,) = prepare(two_files(drawn()), told(drawn())).wears
    assert wear.offset is wear.pairing.offset
    assert wear.offset.verdict == "agree"


@pytest.mark.parametrize("shown", ["2031", "trace.csv", "time;"])
def test_neither_a_reading_nor_a_time_nor_a_file_name_shows(shown):
    exports, answers = two_files(drawn()), told(drawn())
    prepared = prepare(exports, answers)
    open_round = prepare(exports, Answers())
    everything = repr([exports, answers, prepared, open_round, open_round.questions, Export(b"a", "trace.csv")])
    assert shown not in everything
    (wear,) = prepared.wears
    assert str(wear.pairs[0].reference) not in everything
