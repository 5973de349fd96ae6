"""The drawing holds every site of the vocabulary once, alike on both sides, and nothing beyond its frame."""

import re

from pooling.vocabulary import SITES
from server.web import body


def coordinates(path):
    return [tuple(map(float, pair.split(","))) for pair in re.findall(r"-?[\d.]+,-?[\d.]+", path)]


def test_every_site_is_drawn_once_under_a_number_of_its_own():
    patches = [patch for view in body.VIEWS for patch in view.patches]
    assert sorted(patch.site for patch in patches) == sorted(SITES)
    assert [patch.number for patch in patches] == list(range(1, len(SITES) + 1))


def test_what_is_on_the_right_is_on_the_left():
    for view in body.VIEWS:
        for path in (view.outline, "".join(shape for patch in view.patches for shape in patch.shapes)):
            points = {(round(x, 1), round(y, 1)) for x, y in coordinates(path)}
            assert {(-x + 0.0, y) for x, y in points} == {(x + 0.0, y) for x, y in points}


def test_everything_lies_inside_its_frame():
    for view in body.VIEWS:
        for x, y in coordinates(view.outline):
            assert abs(x) <= body.WIDTH / 2
            assert 0 <= y <= body.HEIGHT
        for patch in view.patches:
            assert abs(patch.number_at[0]) + 10 <= body.WIDTH / 2


def test_the_line_of_a_number_ends_inside_its_site():
    for view in body.VIEWS:
        for patch in view.patches:
            x, y = patch.line_ends_at
            assert any(left <= x <= left + w and top <= y <= top + h for left, top, w, h in patch.boxes), patch.site


def test_a_curve_passes_through_its_points_and_closes():
    path = body.curve([(0, 0), (10, 0), (10, 10)])
    assert path.startswith("M0.0,0.0C")
    assert path.endswith("0.0,0.0Z")
    assert {(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)} <= set(coordinates(path))
    assert body.mirrored([(1, 2), (3, 4)]) == ((-3, 4), (-1, 2))
