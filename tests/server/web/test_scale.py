"""Colours that tell steps apart to every eye, in light, dark and print, and words that say where the steps lie."""

import itertools
import re
from pathlib import Path

import numpy as np
import pytest

from pooling.choice import CRITERIA
from server.web import scale
from tests.server.web import colours

STYLE = Path("server/static/web/page.css").read_text(encoding="utf-8")
LIGHT, DARK = (dict(re.findall(r"--(\w+): (#\w{6});", part)) for part in STYLE.split("prefers-color-scheme: dark")[:2])
STEPS = re.findall(r"\.step-\d \{ fill: (#\w{6}); \}", STYLE)
# Two colours 10 apart in CIE Lab are told apart at a glance; 2.3 is just noticeable (Mahy et al. 1994, from memory).
FAR_APART = 15


def test_each_step_of_the_scale_has_its_colour():
    assert len(STEPS) == len(scale.STEPS)
    assert {len(one.legend()) for one in scale.SCALES.values()} == {len(STEPS)}


@pytest.mark.parametrize("lacking", [None, *colours.LACKING])
def test_each_step_is_darker_than_the_one_before_and_far_from_all_others(lacking):
    lightness = [colours.seen(step, lacking)[0] for step in STEPS]
    assert (np.diff(lightness) < -12).all(), lightness
    nearest = min(colours.distance(a, b, lacking) for a, b in itertools.combinations(STEPS, 2))
    assert nearest >= FAR_APART, nearest


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_lines_stand_out_from_what_they_bound(theme):
    """WCAG 2.2, 1.4.11: 3:1 for what is needed to understand a graphic; 1.4.3: 4.5:1 for letters."""
    assert colours.contrast(theme["ink"], theme["limb"]) >= 3  # the edges of regions
    assert colours.contrast(theme["soft"], theme["limb"]) >= 3  # the hatching
    assert colours.contrast(theme["ink"], theme["paper"]) >= 4.5


def test_colours_by_known_values():
    """White and the red primary in CIE Lab under D65, as colour tables print them; contrast of black on white."""
    assert np.allclose(colours.seen("#ffffff"), [100, 0, 0], atol=0.01)
    assert np.allclose(colours.seen("#ff0000"), [53.24, 80.09, 67.20], atol=0.02)
    assert colours.contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("lacking", colours.LACKING)
def test_greys_look_grey_to_all_eyes(lacking):
    assert np.abs(colours.seen("#808080", lacking)[1:]).max() < 0.1


@pytest.mark.parametrize(("mard", "step"), [(0, 1), (7.9, 1), (8, 2), (9.99, 2), (10, 3), (13.9, 4), (14, 5), (60, 5)])
def test_a_value_on_a_cut_belongs_above_it(mard, step):
    assert scale.SCALES["accuracy"].step_of(mard) == step


@pytest.mark.parametrize(("share", "step"), [(100, 1), (95, 1), (94, 2), (90, 2), (80, 3), (70, 4), (69, 5), (0, 5)])
def test_where_more_is_better_the_scale_runs_the_other_way(share, step):
    assert scale.SCALES["stays_on"].step_of(share) == step


def test_darker_is_worse_whatever_is_weighed():
    assert list(scale.SCALES) == list(CRITERIA)
    assert {name for name, one in scale.SCALES.items() if one.rises} == {
        name for name, criterion in CRITERIA.items() if criterion.swing < 0
    }


def test_the_legend_says_where_each_step_lies():
    words = [step.words for step in scale.SCALES["accuracy"].legend()]
    assert words == ["under 8", "8 to under 10", "10 to under 12", "12 to under 14", "14 and over"]
    assert [step.words for step in scale.SCALES["comfort"].legend()][::4] == ["8 and over", "under 5"]
