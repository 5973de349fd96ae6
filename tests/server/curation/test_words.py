from pooling.checks import SEVERITY_OF
from server.curation.words import REMARKS, TAGS, Ground, Question, Reason, Reply, replies_to, told_to_owner
from server.wears.copies import GIVEN_TWICE
from server.wears.corrections import TAGS as CORRECTABLE


def test_a_tag_can_be_put_right_and_what_is_no_tag_can_be_wrong():
    assert set(TAGS) == set(CORRECTABLE)
    for question in Question:
        assert (Reply.CORRECTED in replies_to(question)) == (question in TAGS)
        assert (Reply.WRONG in replies_to(question)) == (question not in TAGS)


def test_every_reason_is_told_in_words_and_a_copy_is_told_as_what_it_could_be_besides():
    told = {reason: told_to_owner(reason) for reason in Reason if reason}
    assert all(words.endswith(".") for _, words in told.values())
    assert told[Reason.DUPLICATE] == told[Reason.NOT_BELIEVABLE]
    assert len(set(told.values())) == len(told) - 1


def test_codes_fit_their_column():
    assert max(len(code) for words in (Reason, Question, Reply, Ground) for code in words.values) <= 17


def test_everything_that_can_be_found_has_words_for_a_list():
    assert set(REMARKS) == {*SEVERITY_OF, GIVEN_TWICE.code}
