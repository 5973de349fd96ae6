"""What is said about a verdict: to a reviewer in words, and to a later audit as numbers that can be kept."""

from dataclasses import replace

import msgspec
import pytest

from pooling.audit import AuditRow, ComponentVerdict, audit
from tests.pooling.audit.sums import FIRST, PEOPLE, SECOND, THIRD, K, block, owners, rest, union, verdict_on


class TestKnown:
    def test_only_what_changed_is_tested_again(self):
        before = verdict_on(FIRST, SECOND)
        rows = [FIRST, SECOND, union("u", SECOND, THIRD), THIRD]
        after = audit(rows, owners(*rows), K, known=before.components)
        assert (after.n_components, after.n_components_known) == (2, 1)
        again = audit(rows, owners(*rows), K, known=after.components)
        assert again.n_components_known == 2
        assert replace(again, n_components_known=1) == after

    def test_a_known_refusal_is_one(self):
        rows = [FIRST, rest(FIRST, "p00")]
        first = verdict_on(*rows)
        assert not first.passed
        assert audit(rows, owners(*rows), K, known=first.components).reasons == first.reasons

    def test_whoever_leaves_has_their_sums_tested_again(self):
        before = verdict_on(FIRST, SECOND)
        links = {atom: person for atom, person in owners(FIRST, SECOND).items() if person != "p00"}
        assert audit([FIRST, SECOND], links, K, known=before.components).n_components_known == 1

    def test_what_is_no_longer_there_is_not_kept(self):
        known = verdict_on(FIRST, SECOND).components
        assert len(audit([FIRST], owners(FIRST), K, known=known).components) == 1

    def test_it_can_be_stored(self):
        for component in verdict_on(FIRST, rest(FIRST, "p00"), SECOND).components.values():
            stored = msgspec.json.encode(component)
            assert msgspec.json.decode(stored, type=ComponentVerdict) == component


class TestThresholds:
    def test_a_row_is_held_to_its_own(self):
        ratings = replace(block("r", PEOPLE[:6]), kind="rating", k=10)
        assert verdict_on(FIRST, ratings).reasons == ("1 sum (rating) speaks of fewer than 10 people",)
        assert verdict_on(FIRST, replace(block("r", PEOPLE[:10]), k=10)).passed

    def test_combinations_of_rows_for_more_people(self):
        """Two sums of ten or more that differ by six: enough for k of 5, too few for 10."""
        rows = [replace(block("r", PEOPLE[:16]), k=10), replace(rest(block("r", PEOPLE[:16]), *PEOPLE[:6]), k=10)]
        assert verdict_on(*[replace(row, k=5) for row in rows]).passed
        assert "sums can be combined so that six people are left" in verdict_on(*rows).reasons

    def test_beside_a_sum_for_fewer_the_lower_one_holds(self):
        whole = block("r", PEOPLE[:16])
        rows = [replace(whole, k=10), rest(whole, *PEOPLE[:6])]
        assert verdict_on(*rows).passed

    def test_a_sum_for_more_people_is_compared_with_one_for_fewer(self):
        whole = block("r", PEOPLE[:16])
        rows = [replace(whole, k=10), rest(whole, *PEOPLE[:2])]
        assert "sums can be combined so that two people are left" in verdict_on(*rows).reasons


class TestNearlyAlone:
    @pytest.mark.parametrize(("weight", "refused"), [(8.0, False), (9.0, True)])
    def test_one_heavy_among_five(self, weight, refused):
        """Of the squares 64 in 68 are 94 %, 81 in 85 are 95.3 %."""
        verdict = verdict_on(AuditRow("a", "block", FIRST.atoms[:5], (weight, 1.0, 1.0, 1.0, 1.0)))
        reasons = ("sums can be combined so that hardly more than one person is left",)
        assert verdict.reasons == (reasons if refused else ())
        assert verdict.furthest_reach == pytest.approx(weight**2 / (weight**2 + 4))


class TestCertificate:
    def test_passed(self):
        text = verdict_on(FIRST, SECOND, union("u", FIRST, SECOND)).certificate()
        assert text.startswith("Passed.\n")
        assert "Looked at: 3 sums, everything ever made, over 12 contributions of 12 people, held to 5 people." in text
        assert "Proved: 3 sums" in text
        assert "Searched, because no proof was found: 0 sums" in text
        assert "17 %" in text

    def test_refused(self):
        text = verdict_on(FIRST, rest(FIRST, "p00")).certificate()
        assert text.startswith(
            "Refused:\n- 1 pair of sums (block, block) differs by fewer than 5 people.\n"
            "- sums can be combined so that one person is left.\n"
        )

    def test_of_two_thresholds(self):
        text = verdict_on(FIRST, replace(block("r", PEOPLE[:10]), k=10)).certificate()
        assert "held to 5 and 10 people" in text
        assert "looked at once more" in text
        assert "Proved: 3 sums" in text

    def test_of_nothing(self):
        assert audit([], {}, K).certificate().startswith("Passed.\nLooked at: 0 sums")

    def test_it_names_nobody(self):
        text = verdict_on(block("record-7", PEOPLE[:4]), FIRST, rest(FIRST, "p00")).certificate()
        assert "record-7" not in text
        assert not any(person in text for person in PEOPLE)
