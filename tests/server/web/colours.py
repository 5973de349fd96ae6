"""What eyes make of colours: sRGB to CIE Lab (IEC 61966-2-1, CIE 15), contrast (WCAG 2.2), and eyes that lack one cone.

The matrices for missing cones are those of Machado, Oliveira and Fernandes 2009 (IEEE TVCG 15:1291) at full severity,
written from memory; the tests hold them to what such a matrix must do: leave greys alone.
"""

import re

import numpy as np

LACKING = {
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}
_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)


def linear(colour):
    """Light of a colour like #1f5f9e."""
    srgb = np.array([int(part, 16) for part in re.findall("..", colour.lstrip("#"))]) / 255
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def lab(light):
    t = (_TO_XYZ @ light) / (_TO_XYZ @ np.ones(3))
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def seen(colour, lacking=None):
    """CIE Lab of a colour, to all eyes or to those that lack a cone."""
    light = linear(colour)
    return lab(light if lacking is None else np.clip(np.array(LACKING[lacking]) @ light, 0, 1))


def distance(one, other, lacking=None):
    """CIE 1976 colour difference."""
    return float(np.linalg.norm(seen(one, lacking) - seen(other, lacking)))


def contrast(one, other):
    lighter, darker = sorted((float(_TO_XYZ[1] @ linear(colour)) for colour in (one, other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)
