"""The one door: what gets into a document, in which order, and what never does."""

import json
from dataclasses import replace
from decimal import Decimal

import pytest

from pooling import caution
from pooling.edition import TABLES, EmptyFit, assemble, canonical_bytes
from pooling.edition.assembly import NOTE_FEEDS, NOTE_SMALL, plain
from pooling.errors import InvalidInput
from pooling.protection import WITHHELD, band_people, publish_count


def numbers_of(node, path=()):
    if isinstance(node, dict):
        for key, value in node.items():
            yield from numbers_of(value, (*path, key))
    elif isinstance(node, list):
        for value in node:
            yield from numbers_of(value, path)
    elif isinstance(node, (int, float)) and not isinstance(node, bool):
        yield path, node


class TestDoor:
    @pytest.mark.parametrize("bare", [9.5, Decimal("9.5"), 9, WITHHELD, (1,), float("nan")])
    def test_nothing_but_published_figures_gets_in(self, bare):
        with pytest.raises(InvalidInput, match="only published figures"):
            plain({"sites": [{"mard_pct": {"value": bare}}]})

    def test_published_figures_bands_and_words_get_in(self):
        row = {"n_wears": publish_count(12), "people": band_people(12), "label": "chest", "licensed": None}
        assert plain([row]) == [
            {"n_wears": {"value": 10}, "people": {"at_least": 10, "below": 20}, "label": "chest", "licensed": None}
        ]

    def test_assembly_sends_every_table_and_the_model_through_the_door(self, make_fit, make_context, monkeypatch):
        went = []

        def watched(node):
            went.append(node)
            return plain(node)

        monkeypatch.setattr("pooling.edition.assembly.plain", watched)
        document = assemble(make_fit(), make_context())
        through = [plain(node) for node in went]
        assert document["tables"] in through
        assert document["model"] in through

    def test_no_exact_number_of_the_fit_stands_in_the_document(self, make_fit, make_context, make_cell):
        canary = type(make_cell("chest").mard_pct)(9.7237413, 8.7237413, 10.7237413)
        cell = replace(
            make_cell("chest", n_people=150),
            **dict.fromkeys(("mard_pct", "bias_pct", "within_15_15_pct", "within_20_20_pct"), canary),
            people_range_pct=(7.7237413, 12.7237413),
            location=-0.0237413,
            log_variance=-4.7237413,
            reading_sd_log=0.1237413,
            n_wears=237413,
            n_pairs=7237413,
        )
        document = assemble(replace(make_fit(), sites=(cell,), spreads={"direct": {"wear": canary}}), make_context())
        text = canonical_bytes(document).decode()
        assert "9.7" in text
        assert "237413" not in text

    def test_nothing_is_published_that_the_auditor_refused(self, make_fit, make_context):
        with pytest.raises(InvalidInput, match="auditor"):
            assemble(make_fit(), make_context(audit_passed=False))


class TestRows:
    def test_cells_under_the_threshold_are_absent(self, document):
        assert "forearm" not in {row["site"] for row in document["tables"]["sites"]}
        assert not any("forearm" in (row["site_a"], row["site_b"]) for row in document["tables"]["contrasts"])
        assert "forearm" not in canonical_bytes(document).decode()

    def test_a_hidden_cell_changes_no_byte_whatever_it_holds(self, make_fit, make_context, make_outcomes):
        fit = make_fit()
        outcomes = make_outcomes()
        absurd = tuple(
            replace(cell, mard_pct=replace(cell.mard_pct, median=99.0, lower=98.0, upper=9999.0), n_people=3)
            if cell.n_people < 5
            else cell
            for cell in fit.sites
        )
        gone = tuple(cell for cell in fit.sites if cell.n_people >= 5)
        assert (
            canonical_bytes(assemble(fit, make_context(), outcomes))
            == canonical_bytes(assemble(replace(fit, sites=absurd), make_context(), outcomes))
            == canonical_bytes(assemble(replace(fit, sites=gone), make_context(), outcomes))
        )

    def test_order_of_arrival_does_not_show(self, make_fit, make_context):
        fit = make_fit()
        turned = replace(fit, sites=fit.sites[::-1], cells=fit.cells[::-1], contrasts=fit.contrasts[::-1])
        assert canonical_bytes(assemble(fit, make_context())) == canonical_bytes(assemble(turned, make_context()))

    def test_rows_stand_in_the_order_of_their_names(self, document):
        for name in ("sites", "sites_by_model", "survival", "skin", "ratings"):
            keys = [
                (row["site"] or row["region"], row["sensor_model"] or "", row.get("rating", ""))
                for row in document["tables"][name]
            ]
            assert keys == sorted(keys)

    def test_cells_over_all_models_stand_among_the_sites_only(self, document):
        assert {row["sensor_model"] for row in document["tables"]["sites"]} == {None}
        assert None not in {row["sensor_model"] for row in document["tables"]["sites_by_model"]}

    def test_a_cell_or_contrast_given_twice_is_refused(self, make_fit, make_context):
        fit = make_fit()
        with pytest.raises(InvalidInput, match="cell twice"):
            assemble(replace(fit, sites=fit.sites + fit.sites[:1]), make_context())
        with pytest.raises(InvalidInput, match="contrast twice"):
            assemble(replace(fit, contrasts=fit.contrasts + fit.contrasts[:1]), make_context())

    def test_a_figure_that_is_no_number_is_refused(self, make_fit, make_context, make_cell):
        broken = replace(make_cell("chest"), log_variance=float("nan"))
        with pytest.raises(InvalidInput, match="finite"):
            assemble(replace(make_fit(), sites=(broken,)), make_context())


class TestWholeDocument:
    def test_parts(self, document):
        assert set(document) == {
            "format",
            "group",
            "number",
            "cut_off",
            "next_cut_off",
            "rules",
            "caution",
            "environment",
            "about",
            "tables",
            "model",
            "audit",
            "notes",
        }
        assert document["rules"] == {
            "protocol_version": 2,
            "k": 5,
            "fit_version": 1,
            "seal_version": 1,
            "protection_version": 1,
        }
        assert document["audit"]["records"] == {"at_least": 100, "below": 200}

    def test_the_caution_stands_in_it(self, document):
        assert document["caution"]["text"] == caution.CAUTION_TEXT
        assert document["caution"]["version"] == caution.CAUTION_VERSION

    def test_it_is_json_and_nothing_else(self, document):
        assert json.loads(json.dumps(document, allow_nan=False)) == document

    def test_comparisons_are_counted(self, document):
        assert document["about"]["n_comparisons"] == {"primary": 3, "all": 4}

    def test_the_model_block_holds_only_cells_of_thirty_people(self, document):
        places = [(cell["site"], cell["sensor_model"]) for cell in document["model"]["cells"]]
        assert places == [
            ("abdomen.front", None),
            ("thigh.front", None),
            ("upper_arm.back", None),
            ("abdomen.front", "demo-a14"),
            ("upper_arm.back", "demo-a14"),
            ("upper_arm.back", "demo-b10"),
        ]
        assert document["model"]["spreads"]["location"]["person"] == {"value": 0.043}
        assert document["model"]["shape"] == {"kurtosis": {"value": 2.1}}

    def test_no_spreads_without_a_cell_of_thirty_people(self, make_fit, make_context, make_cell):
        document = assemble(replace(make_fit(), sites=(make_cell("chest", n_people=29),), cells=()), make_context())
        assert document["model"] == {}

    def test_notes_follow_the_group(self, make_fit, make_context, make_cell):
        small = replace(make_fit(), sites=(make_cell("chest", n_people=12),), cells=(), contrasts=())
        assert NOTE_SMALL in assemble(small, make_context())["notes"]
        assert NOTE_FEEDS in assemble(small, make_context())["notes"]
        assert NOTE_FEEDS not in assemble(small, make_context(feeds_everyone=False))["notes"]
        everyone = assemble(small, make_context(group_kind="everyone"))["notes"]
        assert not {NOTE_SMALL, NOTE_FEEDS} & set(everyone)
        assert "children" in " ".join(assemble(make_fit(), make_context(wearers="adult"))["notes"])


class TestNothingToShow:
    def test_one_sentence_with_the_next_date_and_no_number(self, make_fit, make_context, make_cell):
        fit = replace(make_fit(), sites=(make_cell("chest", n_people=4),), cells=())
        document = assemble(fit, make_context())
        assert document["notes"] == ["There is not enough to show yet. The next edition is due on 2026-08-01."]
        assert document["tables"] == {table: [] for table in TABLES}
        assert document["model"] == {}
        allowed = {"number", "rules", "caution", "about"}
        assert {path[0] for path, _ in numbers_of(document)} <= allowed
        assert document["about"]["n_comparisons"] == {"primary": 0, "all": 0}

    def test_no_byte_depends_on_what_is_hidden_or_how_much_was_audited(self, make_fit, make_context, make_cell):
        hidden = replace(make_fit(), sites=(make_cell("chest", n_people=4),), cells=())
        assert canonical_bytes(assemble(hidden, make_context(n_audited_records=900))) == canonical_bytes(
            assemble(EmptyFit(), make_context(n_audited_records=0))
        )


def test_a_threshold_under_the_floor_is_refused(make_context):
    with pytest.raises(InvalidInput, match="under 5"):
        make_context(k=4)
