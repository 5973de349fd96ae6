"""Rows of an edition's tables."""

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from pooling.edition import rows
from pooling.errors import InvalidInput, TooFewPeople
from pooling.hierarchy import Estimate
from pooling.protection import Band, Published, publish_difference

UNDER_30 = {"site", "region", "sensor_model", "label", "licensed", "people", "withheld", "how_sure", "shows"} | {
    "mard_pct",
    "bias_pct",
    "within_15_15_pct",
    "on_rated_pct",
}
FROM_30 = UNDER_30 | {"far_per_1000", "within_20_20_pct", "people_range_pct", "n_wears", "n_pairs"}


class TestSiteRows:
    def test_few_people_show_few_figures(self, make_cell, make_context):
        few = rows.site_row(make_cell("chest", n_people=29), make_context())
        assert set(few) == UNDER_30
        assert (few["bias_pct"].lower, few["within_15_15_pct"].upper) == (None, None)
        assert few["mard_pct"].lower is not None

    def test_from_thirty_people_the_row_is_full(self, make_cell, make_context):
        full = rows.site_row(make_cell("chest", n_people=30), make_context())
        assert set(full) == FROM_30
        assert full["bias_pct"].lower < full["bias_pct"].value < full["bias_pct"].upper
        assert (full["n_wears"].value, full["n_pairs"].value) == (60, 1835)

    def test_a_cell_under_the_threshold_has_no_row(self, make_cell, make_context):
        with pytest.raises(TooFewPeople):
            rows.site_row(make_cell("chest", n_people=7), make_context(k=8))

    def test_numbers_are_rounded_by_the_band(self, make_cell, make_context):
        made = rows.site_row(make_cell("chest", n_people=12, mard=10.31), make_context())
        assert float(made["mard_pct"].value) == 10.5
        assert float(made["mard_pct"].value % 1) in {0.0, 0.5}

    def test_places(self, make_cell, make_context):
        site = rows.site_row(make_cell("thigh.front"), make_context())
        assert (site["site"], site["region"], site["label"]) == ("thigh.front", "thigh", "front of the thigh")
        region = rows.site_row(make_cell("thigh"), make_context())
        assert (region["site"], region["region"]) == (None, "thigh")
        assert "not named" in region["label"]
        other = rows.site_row(make_cell("other"), make_context())
        assert (other["site"], other["region"]) == (None, None)
        with pytest.raises(InvalidInput, match="no place"):
            rows.site_row(make_cell("elbow"), make_context())


class TestLicence:
    @pytest.mark.parametrize(
        ("place", "model", "answer"),
        [
            ("upper_arm.back", None, True),
            ("abdomen.front", None, None),
            ("thigh.front", None, False),
            ("abdomen.front", "demo-a14", False),
            ("abdomen.front", "demo-b10", True),
            ("upper_arm", "demo-a14", None),
            ("thigh", "demo-a14", False),
            ("other", "demo-a14", None),
            ("chest", "never-heard-of", None),
        ],
    )
    def test_answers(self, place, model, answer, make_context):
        assert rows.is_licensed(place, model, make_context()) is answer


class TestShows:
    def test_known_answer(self):
        # exp(-0.02 ± 1.2816 x 0.12): 0.8405 and 1.1432 of the reference; ends outward to whole mg/dL.
        shown = rows.shows(-0.02, 0.12, n_people=40, k=5)
        assert [(int(s.shown_mg_dl.lower), int(s.shown_mg_dl.upper)) for s in shown] == [
            (58, 81),
            (84, 115),
            (151, 206),
        ]
        assert [s.reference_mg_dl for s in shown] == [70, 100, 180]

    def test_small_groups_get_even_numbers_and_wider_ranges(self):
        few, many = rows.shows(-0.02, 0.12, n_people=12, k=5), rows.shows(-0.02, 0.12, n_people=40, k=5)
        for narrow, wide in zip(many, few, strict=True):
            assert int(wide.shown_mg_dl.lower) % 2 == int(wide.shown_mg_dl.upper) % 2 == 0
            assert wide.shown_mg_dl.lower <= narrow.shown_mg_dl.lower
            assert wide.shown_mg_dl.upper >= narrow.shown_mg_dl.upper

    def test_the_range_holds_eighty_of_a_hundred_readings(self):
        rng = np.random.default_rng(3)
        readings = 100 * np.exp(rng.normal(-0.02, 0.12, 40_000))
        shown = rows.shows(-0.02, 0.12, n_people=400, k=5)[1].shown_mg_dl
        held = np.mean((readings >= float(shown.lower)) & (readings <= float(shown.upper)))
        assert 0.80 <= held <= 0.84

    def test_the_ranges_tell_nothing_that_two_rounded_numbers_do_not(self):
        assert rows.shows(-0.0231, 0.1213, n_people=12, k=5) == rows.shows(-0.0169, 0.1187, n_people=19, k=5)


class TestHowSure:
    def figure(self, half, make_cell, make_context):
        cell = make_cell("chest", n_people=1000)
        ends = replace(cell.mard_pct, median=10.0, lower=10.0 - half, upper=10.0 + half)
        return rows.site_row(replace(cell, mard_pct=ends), make_context())["mard_pct"]

    @pytest.mark.parametrize(
        ("half", "people", "words"),
        [
            (0.9, 100, "well known"),
            (1.0, 100, "well known"),
            (0.9, 50, "fairly well known"),
            (1.2, 500, "fairly well known"),
            (1.2, 20, "roughly known"),
            (2.9, 10, "roughly known"),
            (0.5, 5, "hardly known"),
            (3.1, 500, "hardly known"),
        ],
    )
    def test_words_follow_the_stated_rule(self, half, people, words, make_cell, make_context):
        assert rows.how_sure(self.figure(half, make_cell, make_context), Band(people, None)) == words

    def test_every_word_stands_in_the_rule(self):
        for _, _, words in rows._HOW_SURE:
            assert words.capitalize() in rows.HOW_SURE_RULE
        assert rows._LEAST_SURE.capitalize() in rows.HOW_SURE_RULE


class TestContrasts:
    def shown(self, make_cell, *keys, **people):
        return {key: make_cell(*key, n_people=people.get(key[0].split(".")[0], 40)) for key in keys}

    def test_a_primary_contrast_sets_the_site_against_the_licensed_one(self, make_cell, make_contrast, make_context):
        keys = ("upper_arm.back", None), ("thigh.front", None)
        contrast = make_contrast("upper_arm.back", "thigh.front", difference=-1.31)
        (row,) = rows.contrast_rows([contrast], self.shown(make_cell, *keys), make_context())
        assert (row["site_a"], row["site_b"], row["primary"]) == ("thigh.front", "upper_arm.back", True)
        difference = row["difference_points"]
        assert (float(difference.value), float(difference.lower), float(difference.upper)) == (1.4, 0.2, 2.4)
        assert float(row["p_a_better_frac"].value) == pytest.approx(0.1)

    def test_other_pairs_stand_in_the_order_of_their_names(self, make_cell, make_contrast, make_context):
        keys = ("chest", None), ("thigh.front", None)
        either = [make_contrast("chest", "thigh.front", difference=2.2), make_contrast("thigh.front", "chest")]
        for contrast in either:
            (row,) = rows.contrast_rows([contrast], self.shown(make_cell, *keys), make_context())
            assert (row["site_a"], row["site_b"], row["primary"]) == ("chest", "thigh.front", False)

    def test_turning_a_contrast_twice_changes_nothing(self, make_contrast):
        difference = make_contrast("chest", "calf").difference_mard_points
        twice = rows._Turned(rows._Turned(difference))
        assert (twice.median, twice.lower, twice.upper) == (difference.median, difference.lower, difference.upper)

    def test_hidden_sites_and_mixed_models_have_no_contrast(self, make_cell, make_contrast, make_context):
        shown = self.shown(make_cell, ("chest", None), ("thigh.front", "demo-a14"))
        hidden = make_contrast("chest", "calf")
        mixed = replace(hidden, b=("thigh.front", "demo-a14"))
        assert rows.contrast_rows([hidden, mixed], shown, make_context()) == []

    def test_the_smaller_cell_sets_step_and_people(self, make_cell, make_contrast, make_context):
        keys = ("chest", None), ("upper_arm.back", None)
        shown = self.shown(make_cell, *keys, chest=6, upper_arm=300)
        (row,) = rows.contrast_rows([make_contrast("chest", "upper_arm.back")], shown, make_context())
        assert row["people"] == Band(5, 10)
        difference = row["difference_points"]
        assert [float(n) for n in (difference.value, difference.lower, difference.upper)] == [1.0, 0.0, 3.0]

    def test_few_people_have_primary_contrasts_only(self, make_cell, make_contrast, make_context):
        keys = ("chest", None), ("calf", None), ("forearm", None), ("upper_arm.back", None)
        shown = self.shown(make_cell, *keys, chest=29)
        contrasts = [make_contrast(a[0], b[0]) for a, b in combinations(keys, 2)]
        pairs = [(row["site_a"], row["site_b"]) for row in rows.contrast_rows(contrasts, shown, make_context())]
        assert pairs == [
            ("calf", "forearm"),
            ("calf", "upper_arm.back"),
            ("chest", "upper_arm.back"),
            ("forearm", "upper_arm.back"),
        ]

    def test_contrasts_do_not_sharpen_the_figure_of_a_small_cell(self, make_cell, make_contrast, make_context):
        """An outsider averages all that tells a small cell's MARD; all pairs would bring the error under half."""
        rng, context = np.random.default_rng(11), make_context()
        places = [
            "chest",
            "upper_arm.back",
            "calf",
            "forearm",
            "thigh.front",
            "thigh.outer",
            "abdomen.front",
            "buttock",
        ]
        errors: dict[str, list[float]] = {"row alone": [], "with contrasts": [], "with all pairs": []}
        for _ in range(300):
            mard = dict(zip(places, rng.uniform(8, 14, len(places)), strict=True))
            shown = {(p, None): make_cell(p, n_people=12 if p == "chest" else 400, mard=mard[p]) for p in places}
            told = {p: float(rows.site_row(cell, context)["mard_pct"].value) for (p, _), cell in shown.items()}
            contrasts = [make_contrast("chest", p, difference=mard["chest"] - mard[p]) for p in places[1:]]
            seen = [told["chest"]]
            for row in rows.contrast_rows(contrasts, shown, context):
                seen.append(float(row["difference_points"].value) + told[row["site_b"]])
            everything = [told["chest"]]
            for contrast in contrasts:
                made = publish_difference(contrast.difference_mard_points, n_people=(12, 400), k=5)
                everything.append(float(made.value) + told[contrast.b[0]])
            for name, guess in zip(errors, (told["chest"], np.mean(seen), np.mean(everything)), strict=True):
                errors[name].append(guess - mard["chest"])
        alone, ours, naive = (float(np.std(found)) for found in errors.values())
        assert ours > 0.6 * alone
        assert naive < 0.5 * alone

    def test_what_a_contrast_rests_on(self, make_cell, make_contrast, make_context):
        shown = self.shown(make_cell, ("chest", None), ("calf", None))
        basis = {
            tied: rows.contrast_rows([make_contrast("chest", "calf", tied=tied)], shown, make_context())[0]["basis"]
            for tied in (True, False)
        }
        assert basis == {True: "from people who wore both", False: "rests partly on who chose which"}

    def test_both_fits_stand_beside_each_other_and_parting_is_said(self, make_cell, make_contrast, make_context):
        shown = self.shown(make_cell, ("chest", None), ("calf", None))

        def row(overall=None, *, tied=True):
            made = make_contrast("chest", "calf", tied=tied)
            made = made if overall is None else replace(made, overall_mard_points=overall)
            return rows.contrast_rows([made], shown, make_context())[0]

        near, far = row(), row(Estimate(-2.0, -3.0, -1.0))
        assert (near["fits_part"], far["fits_part"]) == (False, True)
        assert abs(far["overall_points"].value) == 2
        assert far["overall_points"].value * far["difference_points"].value < 0
        assert (row(tied=False)["overall_points"], row(tied=False)["fits_part"]) == (None, None)


def test_the_model_row_carries_what_an_own_estimate_needs(make_cell, make_context):
    row = rows.model_row(make_cell("chest", "demo-a14", n_people=40), make_context())
    figures = {name: float(figure.value) for name, figure in row.items() if isinstance(figure, Published)}
    assert figures == {"location": -0.025, "log_variance": -4.3, "reading_sd_log": 0.12}
    assert math.isclose(float(row["location"].value % 1), -0.025)
