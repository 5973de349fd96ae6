"""What is wrong with the files of deploy/, said by linters that come in wheels and by rules of our own."""

import subprocess
import sys
from configparser import RawConfigParser
from pathlib import Path

import yaml

from tests.house.tree import ROOT

DEPLOY = ROOT / "deploy"
COMPOSE = DEPLOY / "container" / "compose.yml"
UNITS = sorted((DEPLOY / "units").glob("*.service"))
OURS = [path for path in UNITS if path.name != "commonwear-proxy.service"]
BIN = Path(sys.executable).parent
# Each of these closes something that no part of the service needs.
HARDENED = {
    "NoNewPrivileges": "yes",
    "CapabilityBoundingSet": "",
    "ProtectSystem": "strict",
    "ProtectHome": "yes",
    "PrivateTmp": "yes",
    "PrivateDevices": "yes",
    "ProtectKernelModules": "yes",
    "ProtectKernelTunables": "yes",
    "ProtectKernelLogs": "yes",
    "ProtectControlGroups": "yes",
    "RestrictNamespaces": "yes",
    "RestrictSUIDSGID": "yes",
    "LockPersonality": "yes",
    "SystemCallArchitectures": "native",
    "UMask": "0077",
}
# It listens on 80 and 443.
EXCEPTED = {"commonwear-proxy.service": {"CapabilityBoundingSet": "CAP_NET_BIND_SERVICE"}}


def said(*command: str | Path) -> str:
    """All that a linter says; where it ends with a fault and says nothing, that."""
    run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    return (run.stdout + run.stderr).strip() or ("" if run.returncode == 0 else f"ended with {run.returncode}")


def scripts() -> list[Path]:
    found = [path for place in (DEPLOY, ROOT / ".ci") for path in place.iterdir() if path.is_file()]
    return sorted(path for path in found if path.read_bytes().startswith(b"#!/usr/bin/env bash"))


def compose() -> dict[str, dict[str, dict[str, object]]]:
    return yaml.safe_load(COMPOSE.read_text(encoding="utf-8"))


def unit(path: Path) -> dict[str, dict[str, str]]:
    """A unit's sections; of a word that stands several times, the last, which is what systemd takes of most."""
    parser = RawConfigParser(strict=False)
    parser.optionxform = str
    parser.read(path, encoding="utf-8")
    return {name: dict(parser[name]) for name in parser.sections()}


def environment_of(path: Path) -> dict[str, str]:
    """What all lines of a unit together set."""
    lines = path.read_text(encoding="utf-8").splitlines()
    words = [word for line in lines if line.startswith("Environment=") for word in line.partition("=")[2].split()]
    return dict(word.split("=", 1) for word in words)


def faults_of_service(name: str, service: dict[str, object]) -> list[str]:
    """What a service of the compose file lacks or has too much of."""
    limits = service.get("deploy", {}).get("resources", {}).get("limits", {})
    wanted = {
        "a root file system that cannot be written": service.get("read_only") is True,
        "no capabilities": service.get("cap_drop") == ["ALL"],
        "no new privileges": "no-new-privileges:true" in service.get("security_opt", []),
        "a limit of memory, processor and processes": set(limits) >= {"memory", "cpus", "pids"},
        "a look at its health": bool(service.get("healthcheck")),
        "networks of its own": bool(service.get("networks")),
        "log files that end": bool(service.get("logging", {}).get("options", {}).get("max-size")),
    }
    unwanted = {"privileged", "network_mode", "pid", "ipc", "userns_mode", "devices"} & set(service)
    open_ports = ["ports"] if service.get("ports") and name != "proxy" else []
    return [f"{name} lacks {what}" for what, has in wanted.items() if not has] + [
        f"{name} has {what}" for what in (*sorted(unwanted), *open_ports)
    ]


def secrets_in_the_open(services: dict[str, dict[str, object]]) -> list[str]:
    """Settings of a service that hold a secret themselves and not the name of a file."""
    words = ("PASSWORD", "SECRET", "TOKEN", "_URL")
    return [
        f"{name}: {variable}"
        for name, service in services.items()
        for variable in service.get("environment", {})
        if any(word in variable for word in words) and not variable.endswith("_FILE")
    ]


def faults_of_unit(path: Path) -> list[str]:
    service = unit(path)["Service"]
    wanted = HARDENED | EXCEPTED.get(path.name, {})
    lacking = [f"{key}={value}" for key, value in wanted.items() if service.get(key) != value]
    limits = [key for key in ("MemoryMax", "TasksMax") if key not in service]
    administrator = ["User"] if service.get("User") in {None, "root"} else []
    return [f"{path.name} lacks {what}" for what in (*lacking, *limits, *administrator)]
