"""The fingerprint of the running interpreter."""

import re
import subprocess
import sys

import numpy as np
import pytest

from pooling.edition import environment_fingerprint
from pooling.edition.environment import environment_facts


def test_another_process_of_the_same_interpreter_gives_the_same():
    code = "from pooling.edition import environment_fingerprint; print(environment_fingerprint())"
    seen = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip()
    assert seen == environment_fingerprint()
    assert re.fullmatch("[0-9a-f]{64}", seen)


def test_another_version_gives_another(monkeypatch: pytest.MonkeyPatch):
    before = environment_fingerprint()
    monkeypatch.setattr(np, "__version__", "0.0.1")
    assert environment_fingerprint() != before


def test_the_linear_algebra_is_named():
    facts = environment_facts()
    assert facts["linear_algebra"]["blas"][0]
    assert facts["numpy"] == np.__version__
