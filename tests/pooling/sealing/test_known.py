"""Known answers: the whole numbers that version 1 seals of wears typed here, as they were before and must always be."""

import pytest

from pooling.sealing import Cell, Member
from tests.calibration.pools import Stratum, Summary, ties_between
from tests.pooling.sealing.test_slot import seal

CALF, CHEST = Cell("everyone", "calf", "demo-a14"), Cell("everyone", "chest", "demo-a14")

# n, mean, centred squares and fourth powers of log ratios; sums of relative differences and of their squares; counts.
WEARS = (
    ("ada", "calf", (10, 0.021, 0.083, 0.0021, 0.79, 0.094, 9, 10)),
    ("ada", "calf", (24, -0.034, 0.171, 0.0034, 1.83, 0.197, 20, 23)),
    ("bo", "calf", (31, 0.052, 0.302, 0.0127, 3.01, 0.388, 23, 29)),
    ("bo", "calf", (8, 0.043, 0.041, 0.0005, 0.61, 0.056, 8, 8)),
    ("bo", "calf", (57, 0.061, 0.583, 0.0311, 5.72, 0.795, 41, 51)),
    ("cy", "calf", (19, -0.012, 0.094, 0.0011, 1.12, 0.097, 18, 19)),
    ("di", "calf", (40, 0.003, 0.411, 0.0197, 3.21, 0.408, 33, 37)),
    ("ed", "calf", (12, 0.077, 0.066, 0.0009, 1.11, 0.139, 9, 11)),
    ("flo", "calf", (88, -0.018, 0.702, 0.0215, 6.23, 0.735, 75, 84)),
    ("ada", "chest", (15, -0.041, 0.138, 0.0036, 1.24, 0.155, 13, 14)),
    ("bo", "chest", (22, 0.034, 0.197, 0.0071, 1.84, 0.224, 18, 21)),
    ("cy", "chest", (9, 0.008, 0.058, 0.0011, 0.64, 0.061, 8, 9)),
    ("di", "chest", (33, -0.027, 0.377, 0.0203, 2.83, 0.391, 26, 30)),
    ("ed", "chest", (28, 0.049, 0.181, 0.0035, 2.22, 0.249, 23, 27)),
    ("gus", "chest", (14, 0.016, 0.097, 0.0019, 0.97, 0.101, 13, 14)),
    ("hal", "chest", (61, 0.031, 0.508, 0.0142, 4.77, 0.571, 50, 58)),
    ("ivy", "chest", (17, -0.009, 0.122, 0.0027, 1.19, 0.125, 15, 17)),
    ("jo", "chest", (26, 0.024, 0.243, 0.0088, 2.12, 0.263, 21, 25)),
    ("kit", "chest", (45, -0.003, 0.388, 0.0117, 3.51, 0.402, 38, 43)),
)  # fmt: skip


@pytest.fixture(scope="module")
def records():
    blocks = [
        (cell, [_member(person, numbers) for person, place, numbers in WEARS if place == cell.place])
        for cell in (CALF, CHEST)
    ]
    found = seal(blocks, ties=ties_between(blocks), k=2).records.to_payload()
    return {(record["kind"], record.get("place")): record["sums"] for record in found}


def _member(person, numbers):
    return Member(person, f"account of {person}", Summary({"all": Stratum(*numbers)}, (numbers[0] - 1, 0, 1, 0, 0)))


KNOWN = {
    ("block", "calf", "location"): "4435214447114 3032006812785 53514072799 2258351234475 773899158 9587379543",
    ("block", "calf", "dispersion"): "3050031784153 1537334495633 501083008679 1144172264958 147830340275 566684280838",
    ("block", "calf", "tail"): "939800415386 176157297883 22637396553 128654078909 14114976 30526314",
    ("block", "chest", "direct"): "6509432875990 3894964243276 -124858399039 3894964243276 1383291514 4444895134",
    ("overlap", "calf", "rate15"): "1528164582544",
    ("between", None, "dispersion"): (
        "-3807876029275 15393162788864 6140645630310 5630568241068 989704472923 2311723197399 "
        "1112271080667 1112271080667"
    ),
    ("between", None, "direct"): (
        "-24261730288 15393162788864 9475701988306 8724934235541 3167169706 139156940 4163588169 3576025698"
    ),
    ("within", None, "location"): "-4102736586763 3298534883328 2414693736318232 1125310520642 109951162777600",
    ("kurtosis", None, "location"): "450268038560814 614626999926784 22059929045544 20890720927744",
    ("tie", None, "rate20"): (
        "97214610359 39691723096 4149700527 4149700527 564264357537 -564264357537 -564264357537 "
        "564264357537 122126241416 -122126241416 -122126241416 122126241416 359159287608 "
        "-300976772207 -359159287608 300976772207 9411238812 5497558138880 987042787156 4522840110 "
        "281474977"
    ),
}


@pytest.mark.parametrize("name", KNOWN)
def test_sums_are_what_they_always_were(records, name):
    kind, place, channel = name
    assert records[kind, place][channel] == list(map(int, KNOWN[name].split()))
