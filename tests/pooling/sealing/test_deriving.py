"""A version whose constants an edition found: what it takes and what it leaves, and both versions in one pool."""

from dataclasses import replace

import msgspec
import numpy as np
import pytest

from pooling.edition import assemble, canonical_bytes
from pooling.errors import InvalidInput
from pooling.hierarchy import FitRules, fit
from pooling.hierarchy.pool import channel_pool
from pooling.outcomes import Outcomes
from pooling.sealing import FAMILIES, SEAL_VERSION_1, seal_slot
from pooling.sealing.deriving import as_source, derived
from tests.calibration.pools import simulate
from tests.pooling.conftest import make_context

RULES = FitRules(draws=200, wanted_effective=100)


@pytest.fixture(scope="module")
def pool():
    return simulate(np.random.default_rng(21), n_people=160, n_cells=3, confounding=0.0)


def seal(blocks, version, *, end_bucket=4, open_places=()):
    return seal_slot(blocks, open_places=open_places, end_bucket=end_bucket, version=version, key=b"slot", k=5)


@pytest.fixture(scope="module")
def document(pool):
    """Published from sums of version 1, with invented sites in place of the pool's numbers."""
    names = {"place00": "thigh.front", "place01": "abdomen.front", "place02": "upper_arm.back"}
    blocks = [(replace(cell, place=names[cell.place], model="demo-a14"), own) for cell, own in pool.blocks()]
    found = fit(seal(blocks, SEAL_VERSION_1).records, RULES, np.random.default_rng(1))
    return msgspec.json.decode(canonical_bytes(assemble(found, make_context(), Outcomes())))


@pytest.fixture(scope="module")
def second(document):
    return derived(document, number=2, before=SEAL_VERSION_1)


def test_constants_are_those_that_the_edition_printed(document, second):
    spreads = document["model"]["spreads"]
    for channel in ("location", "dispersion", "direct", "rate15", "rate20"):
        own, old = second.channels[channel], SEAL_VERSION_1.channels[channel]
        for name in ("person", "person_cell", "wear"):
            now, before = (getattr(constants, f"{name}_sd") for constants in (own, old))
            printed = spreads[channel][name]["value"]
            assert now == pytest.approx(min(max(printed, before / 2), 2 * before), rel=0.05)
    assert second.channels["dispersion"].reference == pytest.approx(
        np.mean([cell["log_variance"]["value"] for cell in document["model"]["cells"]]), abs=1e-4
    )
    assert second.kurtosis == second.channels["dispersion"].noise
    share = second.channels["rate15"].reference
    assert 0.5 < share < 1
    assert second.channels["rate15"].noise == pytest.approx(share * (1 - share), rel=0.05)


def test_what_no_edition_prints_stays(second):
    assert second.alike == SEAL_VERSION_1.alike
    assert second.grid_bits == SEAL_VERSION_1.grid_bits
    for channel in ("tail", *FAMILIES["survival"], *FAMILIES["skin"], "ease"):
        assert second.channels[channel] == SEAL_VERSION_1.channels[channel]
    assert all(own.mask == 1 for own in second.channels.values())


def test_absurd_figures_move_no_constant_by_more_than_two(document):
    changed = msgspec.json.decode(msgspec.json.encode(document))
    changed["model"]["spreads"]["direct"] = {"person": {"value": 0.0}, "wear": {"value": 9.0}}
    own, old = (derived(changed, number=2, before=SEAL_VERSION_1).channels["direct"], SEAL_VERSION_1.channels["direct"])
    assert (own.person_sd, own.wear_sd) == (old.person_sd / 2, old.wear_sd * 2)
    assert own.sum_mask_sd(0.5) >= old.sum_mask_sd(0.5) / 2


@pytest.mark.parametrize("broken", [{"model": {}}, {"tables": {"sites": []}}])
def test_an_edition_that_tells_too_little_gives_no_version(document, broken):
    with pytest.raises(InvalidInput):
        derived(document | broken, number=2, before=SEAL_VERSION_1)


def test_a_version_follows_one_of_a_lower_number(document):
    with pytest.raises(InvalidInput, match="lower number"):
        derived(document, number=1, before=SEAL_VERSION_1)


def test_the_module_holds_the_version(second):
    source = as_source(second, SEAL_VERSION_1, sha256="ab" * 32)
    made: dict[str, object] = {}
    exec(compile(source, "version_2.py", "exec"), made)
    assert made["SEAL_VERSION_2"] == second
    assert "ab" * 32 in source


def test_old_and_new_blocks_stand_in_one_pool(pool, second):
    """The same people, half sealed by each version, against all by version 1: same levels, within their limits."""
    early, late = _halves(pool)
    rules = replace(RULES, versions={1: SEAL_VERSION_1, 2: second})
    first = seal(early, SEAL_VERSION_1)
    records = {
        number: first.records + seal(late, version, end_bucket=9, open_places=first.places).records
        for number, version in rules.versions.items()
    }
    terms = [term.name for term in channel_pool(records[2], "location", rules.versions).squares]
    assert terms == ["between, version 1", "between, version 2", "within, version 1", "within, version 2"]
    found = {number: fit(own, rules, np.random.default_rng(3)) for number, own in records.items()}
    truth = 100 * pool.truth.mard()
    for one, both, true in zip(found[1].sites, found[2].sites, truth, strict=True):
        assert both.n_people == one.n_people
        assert both.mard_pct.lower - 0.5 < true < both.mard_pct.upper + 0.5
        width = one.mard_pct.upper - one.mard_pct.lower
        assert abs(both.mard_pct.median - one.mard_pct.median) < 0.3 * width
        assert 0.7 < (both.mard_pct.upper - both.mard_pct.lower) / width < 1.4


def test_references_of_two_versions_meet(pool, second):
    """Without noise a cell's mean is the same mean, whichever reference its halves were sealed about."""
    early, late = _halves(pool)
    plain = SEAL_VERSION_1.unmasked(number=98, grid_bits=40)
    moved = {name: replace(own, reference=own.reference + 0.07) for name, own in plain.channels.items()}
    other = replace(plain, number=99, channels=moved)
    versions = {98: plain, 99: other}
    means = [
        channel_pool(seal(early, plain).records + seal(late, own, end_bucket=9).records, "direct", versions)
        for own in (plain, other)
    ]
    np.testing.assert_allclose(means[1].y * means[1].scale, means[0].y * means[0].scale, rtol=1e-9)


def _halves(pool):
    """By person: nobody is in both, so that order matters nowhere."""
    halves = []
    for parity in (0, 1):
        own = [(cell, [m for m in members if int(m.person[1:]) % 2 == parity]) for cell, members in pool.blocks()]
        halves.append(own)
    return halves
