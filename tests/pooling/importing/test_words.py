import pytest

from pooling.importing import words
from pooling.importing.words import MONTHS, plain, says, unit_in, words_in


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Größe", "grosse"),
        ("ŚRÓDTKANKOWA", "srodtkankowa"),
        ("Año", "ano"),
        ("ﬁn", "fin"),
        ("Łódź", "lodz"),
        ("ö", "o"),
    ],
)
def test_plain_letters(text, said):
    assert plain(text) == said


# A header for a fingerstick and one for a sensor's reading in each of the nine languages (from memory).
@pytest.mark.parametrize(
    ("fingerstick", "sensor"),
    [
        ("Fingerstick", "Sensor glucose"),
        ("Fingerstich", "Sensorglukose"),
        ("Glycémie au doigt", "Glucose du capteur"),
        ("Punción del dedo", "Glucosa del sensor"),
        ("Glicemia capillare", "Glucosio del sensore"),
        ("Vingerprik", "Sensorwaarde"),
        ("Picada no dedo", "Glicose do sensor"),
        ("Krew z palca", "Glukoza z czujnika"),
        ("Stick i fingret", "Sensorglukos"),
    ],
)
def test_headers_of_nine_languages(fingerstick, sensor):
    assert says(fingerstick, words.REFERENCE)
    assert not says(fingerstick, words.SENSOR)
    assert says(sensor, words.SENSOR)
    assert not says(sensor, words.REFERENCE)


def test_a_short_stem_is_no_part_of_a_longer_word():
    assert not says("lower", words.BELOW)
    assert not says("Wohltat", words.ABOVE)
    assert says("LO", words.BELOW)
    assert says("glucose_hi_", words.ABOVE)
    assert not says("", words.TOTAL)


def test_below_and_above_share_no_word():
    assert not words.BELOW & words.ABOVE
    assert not {word for word in words.NO_READING if says(word, words.BELOW | words.ABOVE)}


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        *((text, "mg/dL") for text in ("mg/dl", "MG / DL", "glucose_mg_dl", "mg/100 ml", "mg%", "112 mg/dL")),
        *((text, "mmol/L") for text in ("mmol/l", "mmol", "(mmol / L)", "glucose_mmol_l")),
        *((text, None) for text in ("", "mg", "dl", "mg/dL, mmol/L", "g/L")),
    ],
)
def test_units_in_words(text, unit):
    assert unit_in(text) == unit


def test_twelve_months():
    assert set(MONTHS.values()) == set(range(1, 13))
    assert words_in("5 paź. 2031") == ["paz"]
    assert MONTHS["paz"] == 10
