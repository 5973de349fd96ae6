"""The calibration command: its worlds have the truth they state, its packing loses nothing, its table counts right."""

import json
from dataclasses import replace

import numpy as np
import pytest

from pooling.hierarchy import Estimate, combination
from pooling.hierarchy.pool import count
from pooling.ledger import EVERYONE
from tests.calibration import worlds
from tests.calibration.__main__ import main
from tests.calibration.packing import UNMASKED, pack, site_of
from tests.calibration.pools import TAIL_POINTS, TAIL_SD, Pool, Truth, simulate, ties_between
from tests.calibration.running import Ends, Job, keeping_inner_limits, read, run_many, run_one
from tests.calibration.scenarios import FEW, HOSTILE, SCENARIOS
from tests.calibration.table import Measured, _cell, markdown, ratio, share, table
from tests.calibration.worlds import Laws, person_mards, plain_truths, truths

RNG = np.random.default_rng


def people_of(pool: Pool) -> set[int]:
    return {wear.person for wear in pool.wears}


class TestScenarios:
    @pytest.mark.parametrize("name", SCENARIOS)
    def test_every_world_draws_a_pool_with_a_truth_per_cell(self, name):
        drawn = SCENARIOS[name].draw(RNG(3))
        n_cells = len(drawn.pool.truth.location)
        assert {len(values) for values in drawn.truth.values()} == {n_cells}
        assert {wear.cell for wear in drawn.pool.wears} <= set(range(n_cells))
        low, high = SCENARIOS[name].people
        assert len(people_of(drawn.pool)) <= high
        assert low <= drawn.pool.n_people <= high

    def test_few_wear_the_last_of_five_sites(self):
        pool = SCENARIOS["five-sites"].draw(RNG(1)).pool
        assert len(pool.people_at(3)) == FEW < len(pool.people_at(2))

    def test_people_ends_hold_four_of_five_people(self):
        truth = Truth.drawn(3, RNG(2))
        each, ends = 100 * person_mards(truth), plain_truths(truth)
        inside = (ends["people low"][:, None] <= each) & (each <= ends["people high"][:, None])
        assert inside.mean(axis=1) == pytest.approx(0.8, abs=0.01)
        assert each.mean(axis=1) == pytest.approx(100 * truth.mard(), rel=0.03)

    @pytest.mark.parametrize("name", ["autocorrelated", "carry-over", "moves-on"])
    def test_what_is_broken_does_not_move_the_truth(self, name):
        truth = Truth.drawn(3, RNG(2))
        assert truths(RNG(1), truth, SCENARIOS[name].laws)["site MARD"] == pytest.approx(100 * truth.mard())

    def test_likeness_is_between_neighbours(self):
        found = worlds._residuals(RNG(1), 40_000, 0.6)
        assert np.corrcoef(found[1:], found[:-1])[0, 1] == pytest.approx(0.59, abs=0.02)
        assert found.std() == pytest.approx(1, abs=0.03)

    def test_drifting_sensors_come_off_before_they_are_worst(self):
        truth = Truth.drawn(3, RNG(2))
        found = truths(RNG(1), truth, SCENARIOS["drift"].laws)
        assert (100 * truth.mard() < found["site MARD"]).all()
        assert (found["site MARD"] < found["in truth"]).all()

    def test_meters_make_all_look_worse(self):
        found = truths(RNG(1), Truth.drawn(3, RNG(2)), SCENARIOS["meter-bias"].laws)
        assert (found["site MARD"] > found["in truth"]).all()

    def test_who_wore_badly_moves_on(self):
        pool = worlds.simulate(RNG(4), Laws(moves_on=True), n_people=40, n_cells=6)
        pairs = zip(pool.wears[:-1], pool.wears[1:], strict=True)
        same = [(a, b) for a, b in pairs if a.person == b.person]
        assert same
        assert all((a.stratum.a1 / a.stratum.n_pairs > worlds.BAD_ARD) == (a.cell != b.cell) for a, b in same)

    def test_the_last_wears_error_goes_on(self):
        truth = replace(Truth.drawn(1, RNG(1)), location_sds=(0.0, 0.0, 0.05))
        body = worlds._Body.born(RNG(1), truth, Laws())
        errors = []
        for _ in range(4000):
            worlds._readings(rng := RNG(len(errors)), truth, Laws(carried=0.5), body, 0)
            errors.append(body.last_error)
            assert rng is not None
        assert np.corrcoef(errors[1:], errors[:-1])[0, 1] == pytest.approx(0.5, abs=0.05)

    def test_the_tail_of_few_points_is_that_of_many(self):
        assert np.abs(worlds._TAIL_FEW).mean() == pytest.approx(np.abs(TAIL_POINTS / TAIL_SD).mean(), abs=0.005)


class TestPacking:
    def test_at_one_cut_off_it_seals_what_the_plain_way_does(self):
        pool = simulate(RNG(7), n_people=40, n_cells=4)
        counts = count(pack(pool, RNG(1), cut_offs=1))
        plain = {site_of(cell): len(pool.people_at(cell)) for cell in range(4)}
        found = zip(counts.cells, counts.n_wearers, strict=True)
        assert {place: n_people for (place, _), n_people in found} == plain
        assert bool(pack(pool, RNG(1), cut_offs=1).ties) == bool(ties_between(pool.blocks()))

    def test_no_wear_is_counted_twice_over_cut_offs(self):
        pool = simulate(RNG(7), n_people=60, n_cells=4)
        records = pack(pool, RNG(1), cut_offs=4)
        assert sum(block.n_wears for block in records.blocks) <= len(pool.wears)
        assert len(records.blocks) > 4
        assert records.overlaps
        assert {block.cell.scope for block in records.blocks} == {EVERYONE}

    def test_masking_noise_is_in_all_but_the_version_without(self):
        pool = simulate(RNG(7), n_people=40, n_cells=3)
        masked, bare = (pack(pool, RNG(1), cut_offs=1, **version) for version in ({}, {"version": UNMASKED}))
        values = [block.sums["location"] for records in (masked, bare) for block in records.blocks]
        assert all(numbers[-1] > 0 for numbers in values[:3])
        assert all(numbers[-1] == 0 for numbers in values[3:])


@pytest.fixture(scope="module")
def pools():
    return [run_one(Job("t5-confounded", 5, index, 1, index == 0)) for index in range(2)]


class TestRunning:
    def test_a_pool_is_scored_the_same_on_every_run(self, pools):
        again = run_one(Job("t5-confounded", 5, 1, 1, False))
        assert again["rows"] == pools[1]["rows"]

    def test_rows_hold_limits_in_order_and_printed_limits_around_them(self, pools):
        for row in (row for pool in pools for row in pool["rows"] if row[0] in ("site MARD", "contrast")):
            _, _, _, _, median, low, high, low80, high80, shown, shown_high, shown80, shown80_high, *_ = row
            assert shown <= low <= low80 <= median <= high80 <= high <= shown_high
            assert shown <= shown80 <= low80
            assert high80 <= shown80_high <= shown_high

    def test_the_referee_sees_the_pools_that_it_was_asked_about(self, pools):
        beside = [[row[-2:] for row in pool["rows"] if row[0] == "site MARD"] for pool in pools]
        assert all(value is not None for pair in beside[0] for value in pair)
        assert all(value is None for pair in beside[1] for value in pair)

    def test_the_inner_limits_change_no_published_number(self):
        draws = RNG(1).normal(size=500)
        with keeping_inner_limits():
            kept = combination.Estimate.of(draws)
        assert isinstance(kept, Ends)
        assert combination.Estimate is Estimate
        assert Estimate.of(draws) == Estimate(kept.median, kept.lower, kept.upper)

    def test_nothing_sealed_is_an_empty_pool(self):
        assert run_one(Job("unbalanced", 1, 0, 1, False))["rows"] == []

    def test_what_a_file_holds_is_not_run_again(self, pools, tmp_path, monkeypatch):
        path = tmp_path / "pools.jsonl"
        path.write_text(json.dumps(pools[1]) + "\n" + '{"cut short', encoding="utf-8")
        job = Job("t5-confounded", 5, 1, 1, False)
        monkeypatch.setattr("tests.calibration.running.run_one", lambda job: pytest.fail(f"ran {job}"))
        assert run_many([job], processes=1, path=path) == [pools[1]]
        assert read(tmp_path / "none.jsonl") == []

    def test_a_pool_that_the_referee_saw_serves_without_and_not_the_other_way(self, pools, tmp_path, monkeypatch):
        path = tmp_path / "pools.jsonl"
        path.write_text("".join(json.dumps(pool) + "\n" for pool in pools), encoding="utf-8")
        ran = []
        monkeypatch.setattr("tests.calibration.running.run_one", lambda job: ran.append(job) or pools[job.index])
        run_many([Job("t5-confounded", 5, index, 1, False) for index in range(2)], processes=1, path=path)
        assert ran == []
        run_many([Job("t5-confounded", 5, index, 1, True) for index in range(2)], processes=1, path=path)
        assert [job.index for job in ran] == [1]

    def test_the_command_prints_a_table(self, tmp_path, monkeypatch, capsys):
        out = tmp_path / "pools.jsonl"
        monkeypatch.setattr("sys.argv", ["x", "--scenario", "t5", "--pools", "1", "--seed", "9", "--out", str(out)])
        main()
        printed = capsys.readouterr().out
        assert "t5: 1 pools" in printed
        assert "site MARD, 95 %" in printed
        assert len(read(out)) == 1


class TestTable:
    def test_shares_are_over_figures_and_their_errors_over_pools(self):
        mean, half = share([np.array([1.0, 1.0, 1.0]), np.array([0.0])])
        assert (mean, half) == (0.75, pytest.approx(2.5758 * np.sqrt(0.75**2 * 2) / 4, rel=1e-4))

    def test_a_ratio_of_errors_is_of_root_mean_squares(self):
        own, other = [np.array([3.0, 4.0]), np.array([0.0])], [np.array([6.0, 8.0]), np.array([0.0])]
        assert ratio(own, other) == pytest.approx((0.5, 0.0))

    @pytest.mark.parametrize(
        ("value", "verdict"), [(0.95, "inside"), (0.92, "meets"), (0.97, "meets"), (0.90, "OUTSIDE"), (1.0, "OUTSIDE")]
    )
    def test_verdicts(self, value, verdict):
        assert Measured("", value, 0.01, (0.925, 0.965)).verdict == verdict

    def test_a_figure_without_a_band_has_no_verdict(self):
        assert Measured("", 0.5, 0.01).verdict == ""

    def test_only_what_was_measured_is_in_it(self, pools):
        found = {measured.name: measured for measured in table(pools)}
        assert found["site MARD, 95 %"].band == (0.925, 0.965)
        assert 0 < found["site MARD, RMSE of the referee's, all"].value < 3
        assert "in truth, 95 %" not in found

    def test_a_table_marks_what_is_outside_and_leaves_a_dash_for_what_was_not_measured(self, pools):
        covered, printed, errors = markdown({"a world": pools}).split("\n\n")
        assert all(part.splitlines()[2].startswith("| a world, 2 | ") for part in (covered, printed, errors))
        assert printed.splitlines()[2].count("–") == 4  # nobody has 100 people at a site
        marked = _cell(Measured("", 0.9, 0.0, (0.95, 0.99))), _cell(Measured("", 0.94, 0.02, (0.95, 0.99)))
        assert marked == ("**.900**", "~.940")
        assert _cell(Measured("", 1.25, 0.0)) == "1.250"


def test_hostile_worlds_are_scenarios():
    assert set(HOSTILE) < set(SCENARIOS)
    assert all(SCENARIOS[name].laws for name in HOSTILE)
