import pytest
from django.conf import settings

from pooling.tongue import ENGLISH
from server.core.tongues import tongue_for


@pytest.mark.parametrize("language", [code for code, _ in settings.LANGUAGES])
def test_every_language_of_the_pages_has_its_way_with_numbers(language):
    tongue = tongue_for(language, str.upper)
    assert tongue.code == language[:2]
    assert tongue.numbers.startswith(tongue.code)


def test_english_is_what_came_from_below():
    assert tongue_for("en-gb", str.upper) is ENGLISH
    assert tongue_for("de", str.upper).say("calf") == "CALF"
