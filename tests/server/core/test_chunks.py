from server.core.chunks import IDS_A_QUERY, chunks


def test_every_id_comes_once_and_in_order_in_pieces_that_a_query_can_carry():
    ids = [*range(2 * IDS_A_QUERY, -1, -1), 3]
    pieces = list(chunks(ids))
    assert [len(piece) for piece in pieces] == [IDS_A_QUERY, IDS_A_QUERY, 1]
    assert [each for piece in pieces for each in piece] == list(range(2 * IDS_A_QUERY + 1))
    assert list(chunks([])) == []
