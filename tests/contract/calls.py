"""Calls made up from the API's description, singly and in chains, and what of the answers is not as described."""

from __future__ import annotations

import itertools
import traceback
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from random import Random
from typing import Any

import hypothesis
import schemathesis
from django.core.signals import got_request_exception, request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections, transaction
from hypothesis import HealthCheck, Phase, given
from hypothesis import strategies as st
from hypothesis.stateful import initialize
from schemathesis import GenerationMode
from schemathesis.config import SchemathesisConfig
from schemathesis.core import NotSet
from schemathesis.core.failures import FailureGroup
from schemathesis.specs.openapi import checks as openapi

from tests.contract.described import CHECKS
from tests.contract.world import ROLES, World

LONGEST_CHAIN = 12
CHAINED = [*CHECKS, openapi.use_after_free]  # what was taken away in a chain is not there any more
STAYS_AS_DISCARDED = {"draft_read"}


@dataclass
class Seen:
    """How often each call got each status, and each complaint with one call that brought it about."""

    statuses: Counter[tuple[str, str, int]] = field(default_factory=Counter)
    complaints: dict[tuple[str, str], str] = field(default_factory=dict)

    @property
    def n_calls(self) -> int:
        return self.statuses.total()

    @property
    def calls_done(self) -> set[str]:
        """Those that were done at least once, and not refused."""
        return {call for call, _, status in self.statuses if status < 400}

    def note(self, case: Any, role: str, answer: Any, failures: list[Any], broke: list[str]) -> None:
        call = case.operation.label
        self.statuses[call, role, answer.status_code] += 1
        for failure in failures:
            title = f"{failure.title} ({answer.status_code})"
            told = [failure.message, case.as_curl_command(), answer.content[:2000].decode(errors="replace"), *broke]
            self.complaints.setdefault((call, title), f"{call} as {role}: {title}\n" + "\n".join(told))


def loaded() -> Any:
    """The description as the service itself hands it out, and the service beside it, without a network."""
    config = SchemathesisConfig()
    config.projects.default.generation.update(with_security_parameters=False)
    return schemathesis.openapi.from_wsgi("/api/v1/schema/", get_wsgi_application(), config=config)


@contextmanager
def undone() -> Iterator[list[str]]:
    """What is done meanwhile is taken back; what broke meanwhile is told."""
    broke: list[str] = []

    def note(**_: Any) -> None:
        broke.append(traceback.format_exc())

    got_request_exception.connect(note)
    for ended in (request_started, request_finished):  # a request would else close the connection and end it all
        ended.disconnect(close_old_connections)
    try:
        with transaction.atomic():
            yield broke
            transaction.set_rollback(True)
    finally:
        for ended in (request_started, request_finished):
            ended.connect(close_old_connections)
        got_request_exception.disconnect(note)


def told(n_examples: int, seed: int, **more: Any) -> Any:
    """Settings under which the same seed makes the same calls, and every complaint is heard, not the first alone."""
    settings = hypothesis.settings(
        max_examples=max(n_examples, 1),
        database=None,
        deadline=None,
        phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
        **more,
    )
    return lambda test: hypothesis.seed(seed)(settings(test))


def one_by_one(schema: Any, world: World, seen: Seen, *, n_examples: int, seed: int) -> None:
    """Each call of the description by itself, as each of the roles, with what it asks for and with what it does not."""
    for found in schema.get_all_operations():
        operation = found.ok()
        made_up = st.one_of(*(operation.as_strategy(generation_mode=mode) for mode in GenerationMode))

        @told(n_examples, seed)
        @given(case=made_up, role=st.sampled_from(ROLES), start=st.integers(0, 2**32))
        def call(case: Any, role: str, start: int) -> None:
            lead(case, world, Random(start))
            with undone() as broke:
                answer = case.call(headers=world.headers(role))
                seen.note(case, role, answer, _failures(case, answer, checks=CHECKS), broke)

        call()


def in_chains(schema: Any, world: World, seen: Seen, *, n_examples: int, seed: int) -> None:
    """Chains of calls, each with what the answer before it gave; as each of the roles."""
    machine = schema.as_state_machine()
    for role in ROLES:
        of_role = {"role": role, "world": world, "seen": seen, "n_chains": 0}
        chain: Any = type(f"As{role.capitalize()}", (_Chain, machine), of_role)
        for again in itertools.count():
            settings = told(n_examples - chain.n_chains, seed + again, stateful_step_count=LONGEST_CHAIN)
            # Names and ids that the service draws settle what comes next, so a beginning may not be gone over twice.
            with suppress(hypothesis.errors.Flaky, hypothesis.errors.FlakyStrategyDefinition):
                hypothesis.stateful.run_state_machine_as_test(settings(chain))
                break
            if chain.n_chains >= n_examples:
                break


class _Chain:
    """One chain; what it did is taken back at its end."""

    role: str
    world: World
    seen: Seen
    n_chains: int

    def setup(self) -> None:
        self.meanwhile = undone()
        self.broke = self.meanwhile.__enter__()
        type(self).n_chains += 1

    @initialize(start=st.integers(0, 2**32))
    def begin(self, start: int) -> None:
        self.chance = Random(start)

    def teardown(self) -> None:
        self.meanwhile.__exit__(None, None, None)

    def step(self, input: Any) -> Any:
        self.given = frozenset(name for _, name in input.applied_parameters if name)
        return super().step(input)  # type: ignore[misc]

    def before_call(self, case: Any) -> None:
        lead(case, self.world, self.chance, but=self.given)

    def get_call_kwargs(self, case: Any) -> dict[str, Any]:
        return {"headers": self.world.headers(self.role)}

    def validate_response(self, response: Any, case: Any, **told: Any) -> None:
        stays = case.operation.definition.raw["operationId"] in STAYS_AS_DISCARDED
        checks = CHECKS if stays else CHAINED
        failures = _failures(case, response, checks=checks, recorder=self.recorder)  # type: ignore[attr-defined]
        self.seen.note(case, self.role, response, failures, self.broke)
        self.broke.clear()


def lead(case: Any, world: World, chance: Random, *, but: frozenset[str] = frozenset()) -> None:
    """Put words that lead on in the place of some that were made up, but for those that a chain has given."""
    for part in ("path_parameters", "query", "headers"):
        if given := getattr(case, part):
            setattr(case, part, world.place(given, chance, but=but))
    if not isinstance(case.body, NotSet):
        call = f"{case.operation.definition.raw['operationId']} {case.media_type}"
        case.body = world.body(call, case.body, chance)


def _failures(case: Any, answer: Any, **told: Any) -> list[Any]:
    try:
        case.validate_response(answer, **told)
    except FailureGroup as group:
        return list(group.exceptions)
    return []
