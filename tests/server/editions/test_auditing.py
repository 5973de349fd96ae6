"""What the auditor is shown of everything ever sealed, and of what editions rest on."""

import pytest

from server.editions import auditing
from server.editions.models import Edition, Place, RecordKind, SealedRecord
from server.editions.services import publish_draft
from tests.server.editions.conftest import ARM, FLANK, THIGH

pytestmark = pytest.mark.django_db


def plain(rows):
    return [row for row in rows if not row.record.startswith(auditing._WEIGHED)]


def test_every_sum_of_values_is_there_with_one_atom_a_place(sealed):
    rows = plain(auditing.audit_rows())
    own = [row for row in rows if row.kind != RecordKind.TIE]
    assert len(own) == SealedRecord.objects.exclude(kind__in=(RecordKind.OVERLAP, RecordKind.TIE)).count()
    atoms = [atom for row in own for atom in row.atoms]
    assert len(atoms) == len(set(atoms)) == Place.objects.count()
    assert all(row.n_people == len(row.atoms) for row in own)


def test_a_tie_holds_the_places_of_its_linkers_again_and_cancels_within_each(pool):
    pool.wears(pool.members(8), THIGH, FLANK)
    pool.wears(pool.members(5), THIGH)
    pool.wears(pool.members(5), FLANK)
    pool.cut_off(1)
    rows = plain(auditing.audit_rows())
    ties = [row for row in rows if row.kind == RecordKind.TIE]
    assert len(ties) == 2 * SealedRecord.objects.filter(kind=RecordKind.TIE).count()
    held = {atom for row in rows if row.kind == RecordKind.BLOCK for atom in row.atoms}
    for first, second in zip(ties[::2], ties[1::2], strict=True):
        assert set(first.atoms) == set(second.atoms) <= held
        assert [a + b for a, b in zip(first.coefficients, second.coefficients, strict=True)] == [0.0] * 16


def test_sums_that_have_not_ended_are_shown_with_their_weights_too(sealed):
    weighed = [row for row in auditing.audit_rows() if row.record.startswith(auditing._WEIGHED)]
    blocks = [row for row in weighed if row.kind == "weighed block"]
    assert len(blocks) == SealedRecord.objects.filter(kind=RecordKind.BLOCK, family="accuracy").count()
    assert all(0 < weight < 1 for row in blocks for weight in row.coefficients)
    for slot in range(2, 25):
        sealed.cut_off(slot)
    assert not any(row.record.startswith(auditing._WEIGHED) for row in auditing.audit_rows())
    assert auditing.n_audited() == SealedRecord.objects.exclude(kind=RecordKind.OVERLAP).count()


def test_an_edition_remembers_which_sums_each_cell_rests_on(sealed):
    publish_draft(sealed.group, sealed.draft().pk, by=sealed.moderator.account)
    (edition,) = Edition.objects.all()
    cells = {cell for cell in edition.rests_on if cell.startswith("accuracy|")}
    assert cells == {f"accuracy|{place}|demo-a14" for place in (THIGH, FLANK)}
    sealed.wears(sealed.members(6), THIGH)
    sealed.cut_off(2)
    now = auditing.resting_on(sealed.group)
    assert set(edition.rests_on[f"accuracy|{THIGH}|demo-a14"]) < set(now[f"accuracy|{THIGH}|demo-a14"])
    assert auditing.verdict_on(sealed.group, {}).passed


def test_versions_of_a_cell_that_differ_by_too_few_people_are_refused(sealed):
    """A ledger that put a block of three people beside what an edition has shown."""
    publish_draft(sealed.group, sealed.draft().pk, by=sealed.moderator.account)
    sealed.wears(sealed.members(6), THIGH)
    sealed.cut_off(2)
    held = set(Edition.objects.get().rests_on[f"accuracy|{THIGH}|demo-a14"])
    new = SealedRecord.objects.filter(kind=RecordKind.BLOCK, family="accuracy", place=THIGH).exclude(pk__in=held).get()
    Place.objects.filter(pk__in=list(new.places.values_list("pk", flat=True)[:3])).delete()
    verdict = auditing.verdict_on(sealed.group, {})
    assert "1 pair of versions of a cell differs by too few people" in verdict.reasons
    assert not verdict.passed


def test_k_of_its_time_goes_with_each_sum(sealed):
    assert {row.k for row in auditing.audit_rows() if row.kind == RecordKind.BLOCK} == {5}
    sealed.wears(sealed.members(10), ARM)
    sealed.cut_off(2)
    skin = [row.k for row in auditing.audit_rows() if len(row.atoms) == 10 and row.kind == RecordKind.BLOCK]
    assert 10 in skin
