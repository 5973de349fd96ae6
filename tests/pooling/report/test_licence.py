import pytest

from pooling.report.licence import LicensedSite, status_of


@pytest.mark.parametrize(
    ("licensed", "ages", "status"),
    [
        ([], "adult", "off_label"),
        ([("calf", "all")], "adult", "named"),
        ([("calf", "all")], None, "named"),
        ([("calf", "adult")], "adult", "named"),
        ([("calf", "adult")], "child", "off_label_for_age"),
        ([("calf", "child")], "adult", "off_label_for_age"),
        ([("calf", "adult")], None, "not_known"),
        ([("calf", "adult"), ("calf", "child")], None, "named"),
        ([("chest", "all")], "adult", "off_label"),
        (None, "adult", "not_known"),
    ],
)
def test_a_site_is_named_for_whom_it_is_named(licensed, ages, status):
    sites = None if licensed is None else [LicensedSite(*one) for one in licensed]
    assert status_of("calf", sites, ages) == status
