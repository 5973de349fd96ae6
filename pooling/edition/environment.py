"""What of the running interpreter can change the last bits of a computation."""

import hashlib
import json
import platform
import sys
from collections.abc import Mapping
from typing import Any

import numpy as np
import scipy


def environment_fingerprint() -> str:
    """A digest of the versions and the machine facts that floating-point results depend on, 64 hexadecimal digits.

    Two runs of equal fingerprints over equal records give equal bytes; under another fingerprint figures may differ by
    one rounding step.
    """
    return hashlib.sha256(json.dumps(environment_facts(), sort_keys=True).encode()).hexdigest()


def environment_facts() -> dict[str, object]:
    """The facts behind the fingerprint: interpreter, numerical libraries, linear algebra, processor and C library."""
    built: Mapping[str, Any] = np.show_config(mode="dicts")
    return {
        "python": [sys.implementation.name, platform.python_version()],
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "machine": [platform.machine(), sys.byteorder],
        "libc": list(platform.libc_ver()),
        "linear_algebra": {name: _library(built, name) for name in ("blas", "lapack")},
        "simd": sorted(built.get("SIMD Extensions", {}).get("found", [])),
    }


def _library(built: Mapping[str, Any], name: str) -> list[str]:
    facts = built.get("Build Dependencies", {}).get(name, {})
    return [str(facts.get(key, "")) for key in ("name", "version", "openblas configuration")]
