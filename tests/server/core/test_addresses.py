import pytest
from django.test import RequestFactory

from server.core.addresses import client_address

FORWARDED = "203.0.113.9, 198.51.100.7, 192.0.2.1"  # documentation addresses, RFC 5737


@pytest.mark.parametrize(
    ("n_proxies", "seen"), [(0, "192.0.2.200"), (1, "192.0.2.1"), (2, "198.51.100.7"), (4, "192.0.2.200")]
)
def test_only_what_a_trusted_proxy_wrote_is_believed(settings, n_proxies, seen):
    settings.TRUSTED_PROXIES = n_proxies
    request = RequestFactory().get("/", REMOTE_ADDR="192.0.2.200", HTTP_X_FORWARDED_FOR=FORWARDED)
    assert client_address(request) == seen


@pytest.mark.parametrize(
    ("written", "seen"),
    [
        ("192.0.2.1:4711", "192.0.2.1"),
        ("::ffff:192.0.2.1", "192.0.2.1"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("[2001:db8:1:2::77]:4711", "2001:db8:1:2::/64"),
        ("2001:db8:1:3::1", "2001:db8:1:3::/64"),
        ("unknown", "unknown"),
    ],
)
def test_who_has_many_addresses_or_ports_is_counted_once(settings, written, seen):
    settings.TRUSTED_PROXIES = 1
    assert client_address(RequestFactory().get("/", HTTP_X_FORWARDED_FOR=f"203.0.113.9, {written}")) == seen
    settings.TRUSTED_PROXIES = 0
    assert client_address(RequestFactory().get("/", REMOTE_ADDR=written)) == seen
