"""Seeds that anybody can work out."""

import hashlib

from pooling.edition.seeds import seed_of


def test_a_seed_is_what_its_rule_says():
    digest = hashlib.sha256(b"harbour|7|1|location").hexdigest()
    assert seed_of("harbour", 7, 1, "location") == int(digest, 16)


def test_every_part_of_the_name_counts():
    seeds = [
        seed_of(*named)
        for named in (("harbour", 7, 1, "a"), ("moor", 7, 1, "a"), ("harbour", 8, 1, "a"), ("harbour", 7, 2, "a"))
    ]
    assert len({*seeds, seed_of("harbour", 7, 1, "b")}) == 5
