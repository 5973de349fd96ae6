"""Sealed sums against dense algebra on the single wears they were made of."""

import numpy as np
import pytest

from pooling.errors import TooFewPeople
from pooling.hierarchy.pool import cells_of, channel_pool, count, region_of
from pooling.sealing import CHANNELS, SEAL_VERSION_1, Cell, Member, SealedRecords, seal_slot
from pooling.sealing.unit import units_of
from tests.calibration.pools import Stratum, Summary, simulate, ties_between
from tests.pooling.hierarchy.dense import DenseWears

FREE = SEAL_VERSION_1.unmasked(number=99, grid_bits=70)
VERSIONS = {99: FREE, 1: SEAL_VERSION_1}
VARIANCES = (0.002, 0.0007, 0.0011)


@pytest.fixture(scope="module")
def two_slots():
    """Blocks of two slots: people return to the same cell and to others, wears repeat, weights differ."""
    rng = np.random.default_rng(31)
    first, second = (simulate(rng, n_people=24, n_cells=3).blocks() for _ in range(2))
    # The second simulation reuses the names of the first, so the same people come back.
    first = [(Cell("g1", cell.place, "demo-a14"), members) for cell, members in first]
    second = [
        (Cell("everyone" if i % 2 else "g1", cell.place, "demo-a14"), members)
        for i, (cell, members) in enumerate(second)
    ]
    one = seal_slot(first, open_places=(), end_bucket=4, version=FREE, key=b"slot", k=5)
    two = seal_slot(second, open_places=one.places, end_bucket=5, version=FREE, key=b"slot", k=5)
    return [*first, *second], one.records + two.records


@pytest.mark.parametrize("channel", CHANNELS)
def test_means_and_covariance_equal_those_of_single_wears(two_slots, channel):
    blocks, records = two_slots
    pool = channel_pool(records, channel, VERSIONS)
    dense = DenseWears.of(blocks, channel, FREE)
    cells = [(place, model or "") for place, model in pool.counts.cells]
    means = dense.cell_means(cells, dense.q(FREE.channels[channel].person_variance))
    reference = FREE.channels[channel].reference
    np.testing.assert_allclose(pool.y * pool.scale, means @ dense.value + reference, rtol=0, atol=1e-12)
    whole = means @ dense.covariance(*VARIANCES) @ means.T
    parts = zip(VARIANCES, pool.errors.values(), strict=True)
    sealed = sum(variance * pattern for variance, pattern in parts) + pool.fixed * pool.scale**2
    np.testing.assert_allclose(sealed, whole, rtol=0, atol=1e-12)


@pytest.mark.parametrize("channel", CHANNELS)
def test_sums_of_squares_and_their_expectations_equal_those_of_single_wears(two_slots, channel):
    blocks, records = two_slots
    pool = channel_pool(records, channel, VERSIONS)
    dense = DenseWears.of(blocks, channel, FREE)
    forms = (dense.between_form(dense.q(FREE.channels[channel].person_variance)), dense.within_form())
    covariance = dense.covariance(*VARIANCES)
    assert [term.name for term in pool.squares] == ["between, version 99", "within, version 99"]
    for term, form in zip(pool.squares, forms, strict=True):
        assert term.value * pool.scale**2 == pytest.approx(dense.value @ form @ dense.value, rel=1e-10)
        factors = np.array([*VARIANCES, pool.scale**2])
        assert term.expected @ factors == pytest.approx(np.trace(form @ covariance), rel=1e-10)


@pytest.fixture(scope="module")
def tied():
    """Single wears of equal length and spread: two scalars then describe the noise of a tie exactly."""
    rng = np.random.default_rng(5)
    blocks = {}
    for person in range(40):
        chosen = rng.choice(4, int(rng.integers(1, 4)), replace=False)
        for cell in chosen:
            stratum = Stratum(20, rng.normal(0, 0.06), 0.19, 0.01, 2 + rng.normal(0, 0.3), 0.35, 17, 18)
            member = Member(f"p{person:02d}", f"a{person:02d}", Summary({"all": stratum}))
            blocks.setdefault(Cell("everyone", f"place{cell}"), []).append(member)
    blocks = sorted(blocks.items())
    sealed = seal_slot(blocks, ties=ties_between(blocks), open_places=(), end_bucket=4, version=FREE, key=b"slot", k=5)
    assert [len(tie.cells) for tie in sealed.ties] == [4]
    return blocks, sealed.ties[0], sealed.records


def _right_hand_side(dense, cells, q2):
    """Matrix (cells x wears) of the sum over linkers of M_p x_p, and the quadratic form of the sum of x_p' M_p x_p."""
    rows, form = np.zeros((len(cells), dense.to_units.shape[1])), 0.0
    for person in sorted(set(dense.unit_person)):
        units = [i for i, name in enumerate(dense.unit_person) if name == person]
        if len(units) < 2:
            continue
        weight = q2[units]
        laplacian = np.diag(weight) - np.outer(weight, weight) / weight.sum()
        x = dense.to_units[units]
        index = [cells.index((dense.unit_cell[i].place, dense.unit_cell[i].model)) for i in units]
        np.add.at(rows, index, laplacian @ x)
        form = form + x.T @ laplacian @ x
    return rows, form


@pytest.mark.parametrize("channel", ["location", "dispersion", "rate20"])
def test_ties_equal_those_of_single_wears(tied, channel):
    """Rows, their mean, their covariance with each other and with the cell means, and the squares left over."""
    blocks, tie, records = tied
    pool = channel_pool(records, channel, VERSIONS)
    dense = DenseWears.of(blocks, channel, FREE)
    cells = [(place, model or "") for place, model in pool.counts.cells]
    constants = FREE.channels[channel]
    right, form = _right_hand_side(dense, cells, dense.q(constants.person_cell_sd**2))
    n = len(cells)
    laplacian = np.array([FREE.from_grid(unit) for unit in tie.sums[channel][2 * n : 2 * n + n * n]]).reshape(n, n)
    inverse = np.linalg.pinv(laplacian, rcond=1e-8)
    basis = inverse @ pool.to_rows[n:].T
    rows = np.vstack([dense.cell_means(cells, dense.q(constants.person_variance)), basis.T @ right])
    shift = np.concatenate([np.full(n, constants.reference), np.zeros(len(rows) - n)])
    np.testing.assert_allclose(pool.y, rows @ dense.value + shift, rtol=0, atol=1e-12)

    effects = np.random.default_rng(1).normal(size=n)
    of_wears = np.array([effects[cells.index((cell.place, cell.model))] for cell in dense.wear_cell])
    np.testing.assert_allclose(pool.to_rows @ effects, rows @ of_wears, rtol=0, atol=1e-12)

    whole = rows @ dense.covariance(*VARIANCES) @ rows.T
    sealed = sum(v * pattern for v, pattern in zip(VARIANCES, pool.errors.values(), strict=True)) + pool.fixed
    np.testing.assert_allclose(sealed, whole, rtol=0, atol=1e-12)

    (term,) = [term for term in pool.squares if term.name == "tie"]
    left = form - right.T @ inverse @ right
    assert term.value == pytest.approx(dense.value @ left @ dense.value, rel=1e-9)
    expected = np.trace(left @ dense.covariance(*VARIANCES))
    assert term.expected @ [*VARIANCES, 1.0] == pytest.approx(expected, rel=1e-9)


def test_masking_noise_enters_the_known_variance_and_squares_lose_weight():
    rng = np.random.default_rng(3)
    blocks = simulate(rng, n_people=30, n_cells=2).blocks()
    masked, exact = (
        channel_pool(
            seal_slot(blocks, open_places=(), end_bucket=4, version=version, key=b"slot", k=5).records,
            "dispersion",
            VERSIONS,
        )
        for version in (SEAL_VERSION_1, FREE)
    )
    constants = SEAL_VERSION_1.channels["dispersion"]
    weights = [units_of([members], FREE).values.q1[CHANNELS.index("dispersion")] for _, members in blocks]
    sds = np.array([constants.sum_mask_sd(max(own)) / sum(own) for own in weights])
    np.testing.assert_allclose(np.diag(masked.fixed - exact.fixed), sds**2, rtol=1e-6)
    assert (np.abs(masked.y - exact.y) <= 4 * sds).all()
    for own, free in zip(masked.squares, exact.squares, strict=True):
        assert own.freedom < free.freedom
        np.testing.assert_allclose(own.expected, free.expected, rtol=1e-6)


def test_scopes_meet_in_one_cell(two_slots):
    _, records = two_slots
    assert {block.scope for block in records.blocks} == {"g1", "everyone"}
    assert len(cells_of(records)) == 3
    alone = [len(records.within([scope]).blocks) for scope in ("g1", "everyone")]
    assert min(alone) > 0
    assert channel_pool(records, "location", VERSIONS).y.shape == (3,)


def test_people_in_two_blocks_of_a_cell_count_once(two_slots):
    blocks, records = two_slots
    counts = count(records)
    for (place, _), n_people, n_wears in zip(counts.cells, counts.n_people, counts.n_wears, strict=True):
        inside = [members for cell, members in blocks if cell.place == place]
        truth = len({member.account for members in inside for member in members})
        assert truth - 2 <= n_people <= truth
        assert n_wears == sum(map(len, inside))
    everybody = {member.account for _, members in blocks for member in members}
    assert 5 <= counts.people_among(range(len(counts.cells))) <= len(everybody) < sum(counts.n_people)
    assert counts.people_share.sum() == pytest.approx(1)


def test_versions_keep_their_own_sum_of_squares(two_slots):
    blocks, records = two_slots
    newer = seal_slot(blocks[:1], open_places=(), end_bucket=9, version=SEAL_VERSION_1, key=b"slot", k=5).records
    pool = channel_pool(records + newer, "location", VERSIONS)
    names = [term.name for term in pool.squares]
    assert names == ["between, version 1", "between, version 99", "within, version 1", "within, version 99"]
    assert sum(term.freedom for term in pool.squares[:2]) > 0


def test_effects_are_those_that_cells_can_tell_apart():
    def effects(*cells):
        rng = np.random.default_rng(1)
        member = lambda i: Member(f"p{i}", f"a{i}", Summary({"all": Stratum.of(0.1 * rng.standard_normal(12))}))  # noqa: E731
        blocks = [(Cell("everyone", place, model), [member(i) for i in range(5)]) for place, model in cells]
        records = seal_slot(blocks, open_places=(), end_bucket=4, version=FREE, key=b"slot", k=5).records
        return {name: matrix.shape[1] for name, matrix in channel_pool(records, "location", VERSIONS).designs.items()}

    assert effects(("calf", "m1")) == {"site": 1}
    assert effects(("calf", "m1"), ("chest", "m1")) == {"site": 2}
    assert effects(("calf", "m1"), ("chest", "m2")) == {"site": 2, "model": 2}
    assert effects(("calf", "m1"), ("calf", ""), ("chest", "m1")) == {"site": 2, "model": 2, "site_model": 3}
    thigh = (("thigh.front", "m1"), ("thigh.outer", "m1"), ("thigh", "m1"), ("calf", "m1"))
    assert effects(*thigh) == {"site": 4, "region": 2}
    assert region_of("thigh.front") == region_of("thigh") == "thigh"


def test_records_that_ended_apart_still_give_a_covariance(two_slots):
    """An overlap left over after its block was excluded must not make a variance negative."""
    _, records = two_slots
    loud = [pair for pair in records.overlaps for _ in range(30)]
    pool = channel_pool(SealedRecords(records.blocks, tuple(loud), records.bundles), "location", VERSIONS)
    assert np.linalg.eigvalsh(pool.errors["person"])[0] > -1e-12


def test_nothing_sealed_is_said_so():
    with pytest.raises(TooFewPeople, match="no block"):
        channel_pool(SealedRecords(), "location", VERSIONS)
