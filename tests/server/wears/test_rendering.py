import uuid

import pytest

from server.core.errors import NotFound
from server.wears.models import WearPairs
from server.wears.rendering import REPORT_FORMATS, report_file

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("file_format", REPORT_FORMATS)
def test_a_report_is_for_its_owner_and_as_long_as_the_readings_are_kept(upload, contributor, moderator, file_format):
    wear = upload(contributor)
    file = report_file(wear.id, account=contributor.account, file_format=file_format)
    assert file.name == f"wear-report.{file_format}"
    for wear_id, account in ((wear.id, moderator.account), (uuid.uuid4(), contributor.account)):
        with pytest.raises(NotFound, match="no such wear among yours"):
            report_file(wear_id, account=account, file_format=file_format)
    WearPairs.objects.all().delete()
    with pytest.raises(NotFound, match="erased on the date"):
        report_file(wear.id, account=contributor.account, file_format=file_format)


def test_the_unit_is_that_of_the_record_or_the_one_asked_for(upload, contributor):
    wear = upload(contributor)
    own, chosen = (
        report_file(wear.id, account=contributor.account, file_format="html", unit=unit).content.decode()
        for unit in (None, "mmol/L")
    )
    assert "sensor (mg/dL)" in own
    assert "sensor (mmol/L)" in chosen


def test_findings_of_the_account_stand_in_the_file_too(upload, contributor):
    upload(contributor)
    again = upload(contributor)
    page = report_file(again.id, account=contributor.account, file_format="html").content.decode()
    assert "You have uploaded this wear before" in page
