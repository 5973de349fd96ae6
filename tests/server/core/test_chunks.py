from itertools import count, islice

from server.core.chunks import IDS_A_QUERY, chunks, pieces


def test_every_id_comes_once_and_in_order_in_pieces_that_a_query_can_carry():
    ids = [*range(2 * IDS_A_QUERY, -1, -1), 3]
    pieces = list(chunks(ids))
    assert [len(piece) for piece in pieces] == [IDS_A_QUERY, IDS_A_QUERY, 1]
    assert [each for piece in pieces for each in piece] == list(range(2 * IDS_A_QUERY + 1))
    assert list(chunks([])) == []


def test_items_come_as_they_are_few_at_a_time_and_no_more_are_taken_than_asked_for():
    assert list(pieces("cabbage", of=3)) == [["c", "a", "b"], ["b", "a", "g"], ["e"]]
    assert list(pieces([], of=3)) == []
    assert list(islice(pieces(count(), of=2), 2)) == [[0, 1], [2, 3]]
