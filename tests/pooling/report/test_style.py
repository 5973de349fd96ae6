import re

import pytest

from pooling.report.drawing import PALETTE
from pooling.report.style import STYLE


def _luminance(colour):
    # Relative luminance and contrast as in WCAG 2.2.
    digits = colour.lstrip("#")
    digits = digits if len(digits) == 6 else "".join(2 * digit for digit in digits)
    parts = [int(digits[place : place + 2], 16) / 255 for place in (0, 2, 4)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _contrast(one, other):
    high, low = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("place", [0, 1, 2], ids=["light", "dark", "print"])
def test_words_can_be_read_on_every_paper(place):
    colours = re.findall(r":root \{([^}]*)\}", STYLE)[place]
    named = dict(re.findall(r"--(\w+): (#\w+)", colours))
    for ink in ("ink", "soft"):
        for paper in ("paper", "notice"):
            assert _contrast(named[ink], named[paper]) >= 4.5, (ink, paper)


def test_every_colour_of_a_drawing_has_a_dark_counterpart_that_can_be_seen():
    dark = STYLE.partition("prefers-color-scheme: dark")[2]
    paper = re.search(r"--paper: (#\w+)", dark).group(1)
    for name, light in PALETTE.items():
        exchanged = re.search(rf'\[fill="{light}"\] {{ fill: (#\w+)', dark).group(1)
        if name != "grid":
            assert _contrast(exchanged, paper) >= 4.5, name
