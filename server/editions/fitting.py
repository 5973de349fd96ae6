"""From sealed sums to the document of a draft. Nothing here can see a wear, a summary or an account.

The work is cut into parts, one a channel of a family of outcomes, each a row whose result is bytes: workers take them
side by side, any of them may be killed and run again, and the same sums under the same rules give the same bytes.
"""

from collections.abc import Iterable, Mapping
from functools import partial
from typing import Any, Literal, cast
from uuid import UUID

import numpy as np
from django.conf import settings
from django.db import transaction

from pooling import audit, edition, outcomes
from pooling.diagnosis import diagnose
from pooling.edition.certificate import certificate_bytes
from pooling.edition.methods import COMBINED, PARTS
from pooling.edition.seeds import seed_of
from pooling.errors import PoolingError
from pooling.hierarchy import CHANNELS, ChannelFit, FitRules, PooledFit, combine, fit_channel, fittable
from pooling.parts import Parts
from pooling.parts import estimate as estimate_parts
from pooling.sealing import CURRENT, SealedRecords, record_from_payload
from server.core.selectors import sensor_models
from server.core.services import enqueue
from server.editions import calendar
from server.editions.auditing import n_audited, resting_on, verdict_on
from server.editions.jobs import JobKind
from server.editions.models import Draft, DraftState, FitPart, PartState, SealedRecord, Slot
from server.editions.scopes import scopes_read_by
from server.editions.tellings import told_too_closely
from server.editions.wall import sums_only
from server.groups.models import Group
from server.groups.selectors import protocol_of

FIT_RULES = FitRules()
OVERTAKEN = "A later cut-off has passed since this draft was started. Discard it and start a new one."


def sealed_records_for(group: Group) -> SealedRecords:
    """The open sums that a group's figures rest on, in an order that depends on the sums alone."""
    scopes = scopes_read_by(group)
    payloads = SealedRecord.objects.filter(scope__in=scopes, payload__isnull=False).values_list("payload", flat=True)
    records = (record_from_payload(payload) for payload in payloads if payload is not None)
    return SealedRecords.of(records).within(scopes).merged()


def seed_for(draft: Draft, part: str) -> np.random.Generator:
    """Random numbers that belong to one part of one edition under one version of the rules."""
    return np.random.default_rng(seed_of(draft.group.slug, draft.slot_id, FIT_RULES.version, part))


def write_parts(draft: Draft) -> list[FitPart]:
    """The pieces of work of a draft; none where nothing has been sealed that could be fitted."""
    channels = fittable(sealed_records_for(draft.group))
    return FitPart.objects.bulk_create([FitPart(draft=draft, channel=channel) for channel in channels])


@sums_only()
def run_part(part_id: UUID) -> None:
    """Fit one channel and keep the result; whoever finishes the last part asks for the draft to be assembled."""
    part = FitPart.objects.select_related("draft__group").filter(pk=part_id).first()
    if part is None or part.state == PartState.DONE or part.draft.state != DraftState.FITTING:
        return
    try:
        fit = fit_channel(_records_of(part.draft), part.channel, FIT_RULES, seed_for(part.draft, part.channel))
    except PoolingError as error:
        _refuse(part.draft, [_in_words(error)])
        return
    with transaction.atomic():
        parts = Draft.objects.select_for_update().get(pk=part.draft_id).parts
        parts.filter(pk=part.pk, state=PartState.DUE).update(state=PartState.DONE, payload=fit.to_bytes())
        if not parts.filter(state=PartState.DUE).exists():
            enqueue(JobKind.ASSEMBLE_DRAFT, subject=part.draft_id)


@sums_only()
def assemble_draft(draft_id: UUID, *, person_of: Mapping[str, str]) -> None:
    """Combine the parts, let the auditor look at everything ever sealed, and write the document or the refusal."""
    draft = Draft.objects.select_related("group", "slot").filter(pk=draft_id).first()
    if draft is None or draft.state != DraftState.FITTING:
        return
    resting = resting_on(draft.group)
    verdict = verdict_on(draft.group, person_of)
    if not verdict.passed:
        _refuse(draft, verdict.reasons)
        return
    try:
        document, diagnosis = _document(draft, context_of(draft, verdict))
        content = edition.canonical_bytes(document)
    except PoolingError as error:
        _refuse(draft, [_in_words(error)])
        return
    if reasons := told_too_closely(document, resting):
        _refuse(draft, reasons)
        return
    Draft.objects.filter(pk=draft.pk, state=DraftState.FITTING).update(
        state=DraftState.READY,
        document=content,
        certificate=certificate_bytes(content, auditor_version=audit.AUDIT_VERSION),
        diagnosis=diagnosis,
        rests_on=resting,
    )


def _document(draft: Draft, context: edition.EditionContext) -> tuple[dict[str, Any], dict[str, Any]]:
    """What would be published, and how far the fit behind it can be believed."""
    records = _records_of(draft)
    fits = {part.channel: ChannelFit.from_bytes(part.content) for part in draft.parts.all()}
    accuracy = {channel: fits[channel] for channel in CHANNELS if channel in fits}
    fit = combine(records, accuracy, FIT_RULES, seed_for(draft, COMBINED)) if accuracy else edition.EmptyFit()
    lives = {slug: model.rated_life_days for slug, model in context.sensor_models.items()}
    beside = outcomes.estimate(records, fits, rated_life_days=lives)
    document = edition.assemble(fit, context, beside, _parts(draft, records, fit, beside, lives))
    said = fit.diagnostics if isinstance(fit, PooledFit) else {}
    return document, diagnose(records, fits, said, document, FIT_RULES, partial(seed_for, draft))


def _parts(
    draft: Draft,
    records: SealedRecords,
    fit: PooledFit | edition.EmptyFit,
    beside: outcomes.Outcomes,
    lives: Mapping[str, int],
) -> Parts:
    if not isinstance(fit, PooledFit):
        return Parts()
    return estimate_parts(
        records, fit, FIT_RULES, seed_for(draft, PARTS), survival=beside.survival, rated_life_days=lives
    )


def _records_of(draft: Draft) -> SealedRecords:
    """The sums a draft is about; once a later cut-off has sealed more, they are no longer there to be read."""
    records = sealed_records_for(draft.group)
    # Looked at after the sums were read: a cut-off adds its slot in the commit that seals.
    if Slot.objects.filter(number__gt=draft.slot_id).exists():
        raise Overtaken
    return records


class Overtaken(PoolingError):
    """A later cut-off has sealed more since the draft was started."""


def _refuse(draft: Draft, reasons: Iterable[str]) -> None:
    """End a draft without a document, and say why."""
    with transaction.atomic():
        live = Draft.objects.filter(pk=draft.pk, state=DraftState.FITTING)
        if live.update(state=DraftState.REFUSED, reasons=list(reasons)):
            FitPart.objects.filter(draft_id=draft.pk).delete()


def _in_words(error: PoolingError) -> str:
    if isinstance(error, Overtaken):
        return OVERTAKEN
    return f"The figures could not be worked out: {error}"


def context_of(draft: Draft, verdict: audit.Verdict) -> edition.EditionContext:
    """The facts around a draft that its document states."""
    group, protocol = draft.group, protocol_of(draft.group)
    return edition.EditionContext(
        group_slug=group.slug,
        group_name=group.name,
        group_kind="everyone" if group.reserved else "group",
        wearers=cast(Literal["adult", "child", "mixed"], group.wearers),  # a constraint
        number=draft.slot_id,
        cut_off=draft.slot.cut_off.isoformat(),
        next_cut_off=_next_cut_off(draft.slot_id, protocol.months_between_editions),
        protocol_version=protocol.version,
        fit_version=FIT_RULES.version,
        seal_version=CURRENT.number,
        k=protocol.k,
        feeds_everyone=group.feeds_everyone,
        environment=edition.environment_fingerprint(),
        audit_passed=verdict.passed,
        n_audited_records=n_audited(),
        sensor_models=_catalogue(group.wearers),
    )


def _next_cut_off(slot: int, every_months: int) -> str:
    following = calendar.next_slot(slot, every_months=every_months)
    return calendar.cut_off_of(following, first=settings.FIRST_CUT_OFF).isoformat()


def _catalogue(wearers: str) -> dict[str, edition.SensorModelFacts]:
    """Each sensor model with the sites licensed for all whom the group is about."""
    return {
        model.slug: edition.SensorModelFacts(
            rated_life_days=int(model.rated_life_days),
            licensed_sites=tuple(entry["site"] for entry in model.licensed_sites if entry["ages"] in ("all", wearers)),
        )
        for model in sensor_models()
    }
