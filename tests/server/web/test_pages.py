import pytest

from server.web import pages


def test_people_are_told_as_a_lower_end():
    assert pages.people_text({"at_least": 1000, "below": 2000}) == "at least 1,000 people"
    assert pages.people_text(None) == "too few people to say"


@pytest.mark.parametrize(
    ("cell", "number", "interval"),
    [
        ({"value": 9.0, "lower": 8.2, "upper": 9.75}, "9", "8.2 to 9.75"),
        ({"value": -1.5}, "\N{MINUS SIGN}1.5", ""),
        ({"value": 95, "bound": "at_least"}, "at least 95", ""),
        ({"lower": 6, "upper": 12}, "", "6 to 12"),
        (None, "", ""),
    ],
)
def test_figures_in_words(cell, number, interval):
    assert pages.figure(cell) == pages.Figure(number, interval)


def _row(**changes):
    return {
        "site": "thigh.front",
        "label": "front of the thigh",
        "sensor_model": None,
        "licensed": False,
        "people": {"at_least": 10, "below": 20},
        "mard_pct": {"value": 10.5, "lower": 9, "upper": 12.5},
        "bias_pct": {"value": -2},
        "within_15_15_pct": {"value": 78},
        "shows": [{"reference_mg_dl": 100, "from_mg_dl": 84, "to_mg_dl": 118}],
        "how_sure": "roughly known",
    } | changes


def test_a_row_in_the_unit_that_the_reader_chose():
    document = {"tables": {"sites": [_row(), _row(site="calf")]}}
    (line,) = pages.site_lines(document, "sites", "mmol/L", site="thigh.front")
    assert line.ranges == (pages.Range("5.6", "4.7", "6.5"),)
    assert line.licensed == "no: off-label"
    assert line.within_20_20_pct == pages.Figure("", "")
    assert len(pages.site_lines(document, "sites", "mg/dL")) == 2


def test_a_row_without_a_site_of_its_own_has_a_page_of_its_own():
    pooled = [_row(site=None, region="thigh"), _row(site=None, region=None), _row()]
    document = {"tables": {"sites": pooled}}
    assert [line.site for line in pages.site_lines(document, "sites", "mg/dL")] == ["thigh", "other", "thigh.front"]
    for place in ("thigh", "other", "thigh.front"):
        assert len(pages.site_lines(document, "sites", "mg/dL", site=place)) == 1


def _contrast(**changes):
    return {
        "site_a": "calf",
        "site_b": "thigh.front",
        "label_a": "calf",
        "label_b": "front of the thigh",
        "sensor_model": None,
        "people": {"at_least": 10, "below": 20},
        "difference_points": {"value": -1.5, "lower": -3, "upper": -0.5},
        "p_a_better_frac": {"value": 0.9, "bound": "at_least"},
        "basis": "rests partly on who chose which",
        "primary": True,
    } | changes


@pytest.mark.parametrize(
    ("difference", "sentence", "chance"),
    [
        (
            (-1.5, -3, -0.5),
            "Calf: about 1.5 points nearer to the fingerstick than front of the thigh.",
            "calf: at least 90 %",
        ),
        (
            (1.0, 0.5, 2),
            "Front of the thigh: about 1 point nearer to the fingerstick than calf.",
            "front of the thigh: at most 10 %",
        ),
        (
            (-0.2, -1, 0.6),
            "Calf and front of the thigh: the figures leave open which is nearer to the fingerstick.",
            "calf: at least 90 %",
        ),
    ],
)
def test_a_site_is_called_nearer_only_where_the_whole_interval_says_so(difference, sentence, chance):
    row = _contrast(difference_points=dict(zip(("value", "lower", "upper"), difference, strict=True)))
    (line,) = pages.contrast_lines({"tables": {"contrasts": [row]}})
    assert (line.sentence, line.chance, line.people) == (sentence, chance, "at least 10 people")


@pytest.mark.parametrize(
    ("difference", "ahead"),
    [((-1.5, -3, -0.5), "1.5 (0.5 to 3)"), ((1.0, 0.5, 2), "1 (0.5 to 2)"), ((0, -1, 2), "0 (\N{MINUS SIGN}2 to 1)")],
)
def test_points_count_for_the_site_that_is_named_first(difference, ahead):
    row = _contrast(difference_points=dict(zip(("value", "lower", "upper"), difference, strict=True)))
    assert pages.contrast_line(row).ahead.text == ahead


def test_only_primary_differences_of_the_site_are_shown():
    of_a_model = _contrast(sensor_model="demo-a14")
    rows = [_contrast(), of_a_model, _contrast(primary=False), _contrast(site_a="buttock", site_b="chest")]
    assert len(pages.contrast_lines({"tables": {"contrasts": rows}}, site="calf")) == 2
    assert len(pages.contrast_lines({"tables": {"contrasts": rows}})) == 2
