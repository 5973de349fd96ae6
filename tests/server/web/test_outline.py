"""The body on pages: links with names and steps, or radio buttons with labels."""

import re

import pytest
from django.template.loader import render_to_string

from pooling.vocabulary import SITES
from server.web import outline
from server.web.scale import SCALES

ROWS = {
    "thigh.front": {"value": 10.5, "lower": 9, "upper": 12.5},
    "calf": {"value": 15, "lower": 9, "upper": 22},
}
SCALE = SCALES["accuracy"]


@pytest.fixture(scope="module")
def links():
    drawing = outline.coloured(ROWS, "/sites/{}/".format, SCALE)
    return render_to_string("web/_body_links.html", {"drawing": drawing, "says": "MARD", "legend": SCALE.legend()})


def drawn(links):
    return links.partition("<figcaption>")[0]


def test_each_region_leads_to_its_site_and_says_what_it_shows(links):
    assert sorted(re.findall(r'<a href="/sites/([\w.]+)/"', drawn(links))) == sorted(SITES)
    assert 'aria-label="front of the thigh: expected difference 10.5 %"' in links
    assert 'aria-label="forearm: nothing can be said"' in links


def test_a_region_without_a_row_is_hatched_and_every_other_has_its_step(links):
    by_site = dict(re.findall(r'<a href="/sites/([\w.]+)/"(.*?)</a>', drawn(links), re.DOTALL))
    assert 'class="region step-3"' in by_site["thigh.front"]
    assert 'class="region step-5"' in by_site["calf"]
    hatched = {site for site, markup in by_site.items() if 'fill="url(#hatch)"' in markup}
    assert hatched == set(SITES) - set(ROWS)


def test_every_number_of_the_drawing_is_named_below_it(links):
    numbers = re.findall(r'<text x="[^"]+" y="[^"]+" dy="5">(\d+)</text>', links)
    named = re.findall(r'<li><span class="key">(\d+)</span>([^<]+)</li>', links)
    assert [number for number, _name in named] == numbers
    assert ("5", "forearm") in named


def test_the_choice_has_a_radio_button_for_each_site_and_a_label_over_each_shape():
    context = {"drawing": outline.to_choose(), "legend": "Where it sat", "name": "site", "chosen": "calf"}
    page = render_to_string("web/_body_choice.html", context)
    assert sorted(re.findall(r'type="radio" name="site" id="site-([\w.]+)"', page)) == sorted(SITES)
    assert re.findall(r'value="([\w.]+)" checked', page) == ["calf"]
    over = re.findall(r'<label xmlns="[^"]+" for="site-([\w.]+)"></label>', page)
    assert set(over) == set(SITES)
    assert over.count("chest") == 1
    assert over.count("calf") == 2


def test_markup_holds_no_style_and_no_decimal_comma(links, settings):
    assert "style=" not in links
    settings.USE_I18N, settings.LANGUAGE_CODE = True, "de"
    drawing = outline.coloured({}, "/sites/{}/".format, SCALE)
    abroad = render_to_string("web/_body_links.html", {"drawing": drawing, "says": "MARD", "legend": SCALE.legend()})
    assert re.search(r"translate\(\d+\.0 0\)", abroad)
