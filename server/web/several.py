"""Several past wears in one go: chosen, told about once, looked at together, and each stored or refused by itself."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final
from uuid import uuid4

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from server.accounts.throttles import count_try
from server.core.errors import Fault, Invalid, ServiceError
from server.wears import previews
from server.web import drafts
from server.web.bringing import store_once
from server.web.forms_several import SeveralForm
from server.web.saying import said, word_for
from server.web.showing import MemberRequest, for_members, show
from server.web.wearers import own_names, wearer_named

if TYPE_CHECKING:
    from server.accounts.models import Account

LARGEST_LABEL: Final = 40
CHOSEN: Final = ("sensor_model", "site", "end_reason", "assignment", "meter_class")


@dataclass(frozen=True, slots=True)
class Seen:
    """One wear as it would be stored, or what it would be refused for."""

    number: int
    label: str
    told: list[tuple[str, str]]
    pairs: list[drafts.PairLine]
    findings: Sequence[Mapping[str, Any]]
    faults: tuple[str, ...]
    written: str


@dataclass(frozen=True, slots=True)
class Verdict:
    number: int
    label: str
    site: str
    wear_id: str


@for_members
@require_POST
def several(request: MemberRequest) -> HttpResponse:
    """The list of wears found, with what is asked of all and of each; filled in, all that would be stored."""
    try:
        waiting = _waiting(request)
    except ServiceError as refusal:
        return show(request, "web/new_wear.html", {"refusal": refusal}, status=refusal.status)
    form = _form(request, waiting, told="filled" in request.POST)
    if "filled" not in request.POST or "change" in request.POST or not form.is_valid():
        return _list_page(request, form, status=422 if form.is_bound and form.errors else 200)
    count_try("preview", str(request.user.pk))
    wearer = wearer_named(request.user, form.cleaned_data["wearer"])
    seen = [_seen(n + 1, draft, request.user, wearer) for n, draft in enumerate(form.told)]
    context = {
        "seen": seen,
        "n_good": sum(not one.faults for one in seen),
        "told": drafts.held(form.told),
        "waiting": drafts.held(waiting),
        "wearer": form.cleaned_data["wearer"],
        "key": uuid4().hex,
        "answers": [(name, value) for name, value in request.POST.items() if name in form.fields],
    }
    return show(request, "web/several_check.html", context)


def _waiting(request: HttpRequest) -> tuple[drafts.Draft, ...]:
    """Records out of the files that were sent, or the drafts that a page held."""
    files = request.FILES.getlist("file")
    found = tuple(one for file in files for one in _records(file.name or "", file.read()))
    found = found or drafts.drafts_in(request.POST.get("drafts", ""))
    if not found:
        raise Invalid(_("There is no wear here. Choose files that hold ready wear records."))
    if len(found) > drafts.MOST_DRAFTS:
        raise Invalid(
            _("At most %(most)d wears are taken at once. Send the rest in another go.") % {"most": drafts.MOST_DRAFTS}
        )
    return found


def _records(name: str, data: bytes) -> Iterator[drafts.Draft]:
    """Each record of a file: one as JSON, a list of them, or one a line."""
    found = _objects(name, data)
    for n, one in enumerate(found, start=1):
        if not isinstance(one, dict) or not isinstance(one.get("pairs", []), list):
            raise _unreadable(name)
        label = name if len(found) == 1 else f"{name[: LARGEST_LABEL - 4]} {n}"
        yield drafts.Draft(label[:LARGEST_LABEL], drafts.as_stored({"pairs": []} | one))


def _objects(name: str, data: bytes) -> list[Any]:
    try:
        text = data.decode("utf-8-sig")
        try:
            found = json.loads(text)
        except ValueError:
            found = [json.loads(line) for line in text.splitlines() if line.strip()]
    except (ValueError, RecursionError):
        raise _unreadable(name) from None
    return found if isinstance(found, list) else [found]


def _unreadable(name: str) -> Invalid:
    message = _(
        "%(name)s holds no ready wear records. Such a file is JSON: one record, a list of them, or one a line. "
        "An export of a sensor or a meter goes to the other box."
    )
    return Invalid(faults=[Fault(pointer="#/file", message=message % {"name": name})])


def _form(
    request: MemberRequest,
    waiting: Sequence[drafts.Draft],
    *,
    told: bool,
    refused: Mapping[int, Sequence[str]] | None = None,
) -> SeveralForm:
    wearers = own_names(request.user)
    return SeveralForm(request.POST if told else None, wearers=wearers, waiting=waiting, refused=refused)


def _list_page(
    request: HttpRequest, form: SeveralForm, stored: Sequence[Verdict] = (), status: int = 200
) -> HttpResponse:
    context = {"form": form, "drafts": drafts.held(form.waiting), "stored": stored}
    return show(request, "web/several.html", context, status=status)


def _seen(number: int, draft: drafts.Draft, account: "Account", wearer: Any) -> Seen:
    raw = _written(draft)
    try:
        (found,) = previews.preview_of_record(raw, account=account, wearer=wearer)["wears"]
    except ServiceError as refusal:
        return Seen(number, draft.label, [], [], [], faults_of(refusal), "")
    told = list(drafts.told(draft.record))
    return Seen(number, draft.label, told, drafts.pair_lines(draft.record), found["findings"], (), raw.decode())


def _written(draft: drafts.Draft) -> bytes:
    return json.dumps(draft.record, separators=(",", ":")).encode()


def faults_of(refusal: ServiceError) -> tuple[str, ...]:
    """What a refusal says, each fault with the field that it is about."""
    return tuple(map(_in_words, refusal.faults)) or (said(refusal.detail),)


def _in_words(fault: Fault) -> str:
    """A fault with its field as the page calls it; what is chosen from a list of the form needs no list of words."""
    field, _sep, rest = fault["pointer"].removeprefix("#/").partition("/")
    number, _sep, _value = rest.partition("/")
    if field == "pairs" and number.isdecimal():
        return _("Pair %(number)d: %(what)s") % {"number": int(number) + 1, "what": said(fault["message"])}
    what = _("choose it from the list") if field in CHOSEN else said(fault["message"])
    called = drafts.field_names().get(field, field)
    return f"{called}: {what}" if called else what


@for_members
@require_POST
def keep(request: MemberRequest) -> HttpResponse:
    """One verdict for each: what is refused comes back with its faults, and is lost for nothing."""
    waiting = drafts.drafts_in(request.POST.get("drafts", ""))
    if not waiting:
        raise Invalid(_("There is no wear here. Begin again."))
    key, wearer = request.POST.get("key", ""), request.POST.get("wearer", "")
    stored, refused = [], {}
    for n, draft in enumerate(waiting):
        try:
            wear_id = store_once(_written(draft), account=request.user, wearer=wearer, key=f"{key}-{n}")
        except ServiceError as refusal:
            refused[n] = faults_of(refusal)
        else:
            stored.append(Verdict(n + 1, draft.label, word_for(draft.record["site"]), wear_id))
    again = tuple(waiting[n] for n in refused)
    form = _form(request, again, told=False, refused=dict(enumerate(refused.values())))
    return _list_page(request, form, stored, status=200 if stored else 422)
