"""Who may import whom: the contracts of pyproject.toml, run here so that plain pytest shows a breach."""

import tomllib

from importlinter.cli import EXIT_STATUS_SUCCESS, lint_imports

from tests.house.tree import ROOT


def test_the_import_contracts_are_kept(capsys):
    status = lint_imports(config_filename=str(ROOT / "pyproject.toml"), no_cache=True)
    assert status == EXIT_STATUS_SUCCESS, capsys.readouterr().out


def test_the_contracts_cover_the_walls_that_privacy_rests_on():
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"][
        "contracts"
    ]
    walled = {module for contract in contracts for module in contract.get("source_modules", [])}
    assert {"pooling", "pooling.hierarchy", "pooling.audit", "pooling.edition", "server.editions.fitting"} <= walled
