from pooling.tongue import ENGLISH, Tongue, said_in

LOUD = Tongue("xx", "de-DE", str.upper)


def test_in_english_everything_stays_as_it_is():
    chart = {"title": "day of wear", "layer": [{"data": {"values": [{"label": "calf", "reads": "8 to 9", "x": 1.5}]}}]}
    assert said_in(chart, ENGLISH.say) == chart


def test_words_are_said_wherever_they_stand_and_nothing_else_is():
    chart = {
        "mark": {"type": "text"},
        "encoding": {"x": {"field": "label", "axis": {"title": "glucose (mg/dL)", "grid": False}}},
        "layer": [{"data": {"values": [{"label": "calf", "reads": "8 to 9", "x": 1.5}]}, "title": None}, None],
    }
    said = said_in(chart, LOUD.say)
    assert said["encoding"] == {"x": {"field": "label", "axis": {"title": "GLUCOSE (MG/DL)", "grid": False}}}
    assert said["layer"] == [
        {"data": {"values": [{"label": "CALF", "reads": "8 TO 9", "x": 1.5}]}, "title": None},
        None,
    ]
    assert said["mark"] == chart["mark"]
