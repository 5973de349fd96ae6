"""The proxy says and takes what the server says and takes, and its memory holds what it lets in."""

import json
import re
from ipaddress import ip_address, ip_network

import pytest
from django.conf import settings

from server.core.errors import TooLarge, TooMany
from tests.deploy import lint

CONF = (lint.DEPLOY / "proxy/nginx.conf").read_text(encoding="utf-8")
MIB = 1024**2
REFUSALS = {int(status): json.loads(body) for status, body in re.findall(r"return (\d+) '(\{.*\})';", CONF)}


@pytest.mark.parametrize("kind", [TooLarge, TooMany], ids=lambda kind: kind.code)
def test_what_the_proxy_refuses_by_itself_it_says_as_the_server_does(kind):
    said = REFUSALS[kind.status]
    assert said["detail"]
    assert said | {"detail": ""} == {
        "detail": "",
        "type": f"/problems/{kind.code}",
        "title": kind.title,
        "status": kind.status,
        "code": kind.code,
    }


def test_nothing_else_is_refused_in_these_words_and_whoever_is_to_come_back_is_told_when():
    assert set(REFUSALS) == {TooLarge.status, TooMany.status}
    assert re.findall(r"error_page ([\d ]+) @", CONF) == ["413", "429", "502 504"]
    assert CONF.count("add_header Retry-After 5 always;") == 2


def test_the_proxy_takes_bodies_as_long_as_the_server_takes_them():
    assert re.findall(r"client_\w+_size (\d+)m;", CONF) == [str(settings.LARGEST_BODY_BYTES // MIB)] * 2
    assert f"at most {settings.LARGEST_BODY_BYTES // MIB} MiB" in REFUSALS[TooLarge.status]["detail"]


def test_the_bodies_that_are_held_at_once_fit_into_half_of_its_memory():
    """20 of them from one address were too many for 128 MiB, and the kernel ended it."""
    most = int(re.search(r"limit_conn large (\d+);", CONF).group(1)) * settings.LARGEST_BODY_BYTES
    composed = lint.compose()["services"]["proxy"]["deploy"]["resources"]["limits"]["memory"]
    as_unit = lint.unit(lint.DEPLOY / "units/commonwear-proxy.service")["Service"]["MemoryMax"]
    assert {composed.upper(), as_unit} == {"512M"}
    assert 2 * most <= 512 * MIB


def test_it_starts_with_the_nginx_of_a_present_system_and_writes_where_a_unit_may():
    assert "http2 on;" not in CONF  # unknown before 1.25
    assert "error_log stderr " in CONF  # /dev/stderr is a socket under systemd, which cannot be opened
    assert set(re.findall(r"^\s*(?:\w+_temp_path|pid) (/\w+)/", CONF, re.M)) == {"/tmp"}


def test_a_machine_that_is_started_again_is_not_taken_for_lost():
    servers = re.findall(r"^\s+server (\S+:\d+)(.*);", CONF, re.M)
    assert servers == [("web:8000", " max_fails=0")]


def test_web_keeps_its_address_since_the_proxy_asks_for_it_once():
    held = lint.compose()

    def filled(words: str) -> str:
        return re.sub(r"\$\{\w+:-([^}]+)\}", r"\1", words)

    address = ip_address(filled(held["services"]["web"]["networks"]["front"]["ipv4_address"]))
    (net,) = held["networks"]["front"]["ipam"]["config"]
    assert address in ip_network(filled(net["subnet"]))
