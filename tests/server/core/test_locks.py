import os
import subprocess
import sys
import textwrap

import pytest
from django.conf import settings as configured
from django.db import connection

from server.core import locks


@pytest.mark.django_db
@pytest.mark.parametrize("lock", [locks.held, locks.held_here])
def test_a_name_is_held_once_and_free_again(lock):
    with lock("a piece of work") as mine:
        assert mine
        with lock("a piece of work") as also_mine, lock("another") as other:
            assert not also_mine
            assert other
    with lock("a piece of work") as mine_again:
        assert mine_again


@pytest.mark.django_db
def test_an_error_inside_frees_the_name():
    with pytest.raises(ZeroDivisionError), locks.held("broken work"):
        raise ZeroDivisionError
    with locks.held("broken work") as mine:
        assert mine


def test_a_killed_process_holds_nothing(settings):
    hold = f"""
        import django, os, pathlib, sys
        from django.conf import settings
        settings.configure(DATA_DIR=pathlib.Path({str(configured.DATA_DIR)!r}))
        from server.core.locks import held_here
        with held_here("work of one that is killed") as mine:
            print(mine, flush=True)
            sys.stdin.read()
    """
    with subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(hold)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, env={**os.environ}
    ) as other:
        assert other.stdout.readline().strip() == b"True"
        with locks.held_here("work of one that is killed") as mine:
            assert not mine
        other.kill()
    with locks.held_here("work of one that is killed") as mine:
        assert mine


@pytest.mark.django_db(transaction=True)
def test_a_single_writer_runs_in_a_transaction_and_can_be_repeated():
    for _ in range(2):
        with locks.single_writer("cut-off"):
            assert connection.in_atomic_block


def test_what_is_held_for_good_is_held_by_the_program_that_comes_after():
    hold = f"""
        import os, pathlib, sys
        from django.conf import settings
        settings.configure(DATA_DIR=pathlib.Path({str(configured.DATA_DIR)!r}))
        from server.core.locks import hold_for_good
        assert hold_for_good("a service that stands")
        os.execv(sys.executable, [sys.executable, "-c", "print(1, flush=True); input()"])
    """
    with subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(hold)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, env={**os.environ}
    ) as other:
        assert other.stdout.readline() == b"1\n"
        assert not locks.hold_for_good("a service that stands")
        other.stdin.write(b"\n")
    with locks.held_here("a service that stands") as mine:
        assert mine
