"""The demo tries the promise on itself, over HTTP: company makes a row appear, and a lone wear moves no byte."""

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
from django.conf import settings

from pooling.simulate import Community, single_wear
from pooling.simulate.community import NO_PAIRS_FRAC
from pooling.simulate.outcomes import outcome_truth
from server.accounts.consents import CONSENT_VERSION
from server.demo.client import Visitor, wait_for
from server.demo.links import follow_links
from server.demo.play import SLOTS, Stage

GROUP = "harbour"
ELSEWHERE = "upper_arm.back"  # where others wear theirs while one is alone at the planted site
NEWCOMERS = 6  # one who comes first, and k more
PASSWORD = "five more invented lanterns"  # noqa: S105  (of nobody)


class Failed(AssertionError):
    """The demo does not do what it promises."""


def insist(what: str, holds: bool) -> None:
    if not holds:
        raise Failed(what)


def check(stage: Stage, community: Community) -> dict[str, Any]:
    """Run the whole check; returns the figures to print."""
    before = _document(stage, "everyone", SLOTS)
    site, model = stage.scenario.planted_site, stage.scenario.planted_model
    insist("the planted cell shows nothing yet", not _has_row(before, site, model))
    stage.set_date(stage.cut_off(SLOTS) + timedelta(days=2))
    newcomers = [_newcomer(stage) for _ in range(NEWCOMERS)]

    # The accounts have to be older than one edition; a cut-off passes before their wears count.
    lone = newcomers[0]
    stage.set_date(stage.cut_off(SLOTS + 1) + timedelta(days=2))
    _pass_quietly(stage, SLOTS + 1)
    wear = _give_wear(stage, lone, seed=1)
    company = [_give_wear(stage, other, seed=100 + at, site=ELSEWHERE) for at, other in enumerate(newcomers[1:])]
    _approve(stage, [wear, *company])
    branch = _branch_without(wear)
    _pass_quietly(stage, SLOTS + 2)
    insist("the lone wear waits", lone.get(f"/api/v1/wears/{wear}/").json["state"] == "approved")
    published = stage.publish("everyone")
    insist("the lone wear's cell shows nothing", not _has_row(_document(stage, "everyone", SLOTS + 2), site, model))
    without = _sha256_in(branch, SLOTS + 2)
    insist("the edition's bytes do not depend on the lone wear", without == published["sha256"])

    stage.set_date(stage.cut_off(SLOTS + 2) + timedelta(days=2))
    _approve(stage, [_give_wear(stage, newcomer, seed=seed) for seed, newcomer in enumerate(newcomers[1:], start=2)])
    _pass_quietly(stage, SLOTS + 3)
    published = stage.publish("everyone")
    after = _document(stage, "everyone", SLOTS + 3)
    insist("with company, the cell's row appears", _has_row(after, site, model))
    insist("the wear has been counted", lone.get(f"/api/v1/wears/{wear}/").json["state"] == "admitted")
    return {
        "ok": True,
        "lone_wear_waited": True,
        "sha256_with_and_without_it": without,
        "row_appeared_for": f"{site}, {model}",
        "sha256_with_company": published["sha256"],
        "links_followed": follow_links(stage.visitor, edition=SLOTS + 3),
        "truth": _against_truth(before, community),
    }


def _document(stage: Stage, group: str, number: int) -> dict[str, Any]:
    document: dict[str, Any] = stage.visitor.get(f"/api/v1/groups/{group}/editions/{number}/").json
    return document


def _has_row(document: dict[str, Any], site: str, model: str) -> bool:
    rows = document["tables"]["sites_by_model"]
    return any(row["site"] == site and row["sensor_model"] == model for row in rows)


def _newcomer(stage: Stage) -> Visitor:
    """Somebody who joins as anybody would: a made-up name, a consent, a group."""
    consents = {"consent_version": CONSENT_VERSION, "scopes": {"keep": True, "pool": True}}
    joined = stage.visitor.post("/api/v1/members/", {"password": PASSWORD, **consents}).json
    newcomer = stage.visitor.signed_in(joined["sign_in_name"], PASSWORD)
    newcomer.call("PUT", f"/api/v1/groups/{GROUP}/membership/", {})
    return newcomer


def _give_wear(stage: Stage, member: Visitor, *, seed: int, site: str = "") -> str:
    """Upload a wear at the planted site, or at the one named, and give it to the group."""
    rng = np.random.default_rng([stage.scenario.seed, seed])
    record = single_wear(rng, site or stage.scenario.planted_site, stage.scenario.planted_model, n_pairs=40)
    wear: str = member.post("/api/v1/wears/", record).json["id"]
    member.call("PUT", f"/api/v1/wears/{wear}/group/", {"group": GROUP}, expect=200)
    return wear


def _approve(stage: Stage, wears: Sequence[str]) -> None:
    """Wait for the day on which the moderator gets to see the wears, and let them be approved."""
    stage.pass_release_day()
    moderator, queue = stage.moderator(GROUP), f"/api/v1/groups/{GROUP}/curation/"

    def listed() -> bool | None:
        return {wear["wear"] for wear in moderator.get(queue).json["wears"]} >= set(wears) or None

    wait_for("the release of a batch", listed)
    for wear in wears:
        moderator.call("POST", f"{queue}{wear}/decision/", {"action": "approve"}, expect=201)


def _pass_quietly(stage: Stage, slot: int) -> None:
    stage.pass_cut_off(slot)
    stage.say(f"slot {slot} is sealed")


def _branch_without(wear: str) -> Path:
    """A copy of the whole database in which the lone wear has been taken back."""
    branch = settings.DATA_DIR / "branch"
    branch.mkdir(mode=0o700)
    source, target = (sqlite3.connect(folder / "commonwear.sqlite3") for folder in (settings.DATA_DIR, branch))
    with target:
        source.backup(target)
    source.close()
    target.close()
    shutil.copy2(settings.DATA_DIR / "keys.json", branch)
    _in_branch(branch, "erase", wear)
    return branch


def _sha256_in(branch: Path, slot: int) -> str:
    return _in_branch(branch, "edition", str(slot))


def _in_branch(branch: Path, *words: str) -> str:
    """Do something in the copy, in a process of its own."""
    environment = os.environ | {"COMMONWEAR_DATA_DIR": str(branch)}
    done = subprocess.run(  # noqa: S603
        [sys.executable, "-m", "server", "demo_branch", *words],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise Failed(f"the copy of the database could not be worked on: {done.stderr[-800:]}")
    return done.stdout.strip()


def _against_truth(document: dict[str, Any], community: Community) -> list[dict[str, Any]]:
    """The published intervals beside the values that the invented people were drawn from."""
    # All models of this community end early alike, so that a site has the truth of any of them.
    on_rated_pct = 100 * outcome_truth(14, lost_frac=NO_PAIRS_FRAC).on_rated
    return [
        {
            "site": row["site"],
            "truth": round(community.truth.sites[row["site"]].mard_pct, 2),
            "lower": row["mard_pct"]["lower"],
            "upper": row["mard_pct"]["upper"],
            "on_rated_truth": round(on_rated_pct, 1),
            "on_rated": row["on_rated_pct"],
        }
        for row in document["tables"]["sites"]
        if row["site"] in community.truth.sites
    ]


def report(figures: dict[str, Any]) -> str:
    return json.dumps(figures, sort_keys=True)
