"""Invented wears without a fault, ways to plant one, and the codes of what is found."""

import json

import numpy as np

from pooling.checks import find
from pooling.columns import columns_from
from pooling.record import parse_record
from pooling.simulate import single_wear


def wear(seed=3, n_pairs=40, **changes):
    record = single_wear(np.random.default_rng(seed), "thigh.front", "demo-a14", n_pairs=n_pairs)
    # The simulator leaves some pairs out of range; faults are planted in whole wears.
    for pair in record["pairs"]:
        if pair["sensor"] is None:
            pair |= {"sensor": pair["reference"], "sensor_mark": None}
    return record | changes


def each(content, **changes):
    for number, pair in enumerate(content["pairs"]):
        pair |= {name: value(number, pair) if callable(value) else value for name, value in changes.items()}
    return content


def found(content):
    record = parse_record(json.dumps(content).encode())
    return find(columns_from(record), record)


def codes(content):
    return [finding.code for finding in found(content)]
