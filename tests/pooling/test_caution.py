import pytest

from pooling.caution import CAUTION_SHORT, CAUTION_TEXT, CAUTION_VERSION

# What the caution must say. Grounds: 82 FR 13549 (secondary displays carry a no-dosing warning) and standard-of-care
# guidance on fingersticks when symptoms and reading disagree (Diabetes Care, yearly technology section; from memory).
MUST_NAME = (
    "off-label",
    "own risk",
    "chose to take part",
    "errors of their own",
    "dose",
    "treat a low",
    "calibrate",
    "alarms",
    "automated insulin delivery",
    "children",
    "pregnancy",
    "dialysis",
    "do not feel their lows",
    "substances",
    "fingerstick",
    "instructions",
    "clinician",
    "muscle",
    "scars",
    "insulin sites",
    "Blisters",
    "spreading redness",
    "fever",
    "Report device faults",
    "no clinical grading",
)


@pytest.mark.parametrize("words", MUST_NAME)
def test_the_text_says_all_of_it(words):
    assert words in CAUTION_TEXT


def test_the_short_form_is_one_sentence_that_keeps_the_core():
    assert CAUTION_SHORT.count(".") == 1
    assert all(words in CAUTION_SHORT for words in ("dose", "treat a low", "off-label", "own risk"))


def test_the_version_is_a_number():
    assert isinstance(CAUTION_VERSION, int)
    assert CAUTION_VERSION >= 1
