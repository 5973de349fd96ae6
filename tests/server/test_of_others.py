"""Every address with the id of something that a member holds, asked for by somebody else: it is as if it were none."""

import re
from uuid import uuid4

import pytest
from django.urls import URLResolver, get_resolver

from server.accounts.plans import register_plan
from server.accounts.selectors import wearer_of
from server.accounts.services import remember_mapping
from server.editions.expecting import document_of_everyone

pytestmark = pytest.mark.django_db

# Ids of what belongs to a group are tried with a table of who may do what (tests/server/api/test_allowed.py).
OF_MEMBERS = ("wear_id", "plan_id", "mapping_id")
ID = re.compile(r"<uuid:(\w+)>")
FILLED_IN = {"slug": "harbour", "file_format": "html"}
MAPPING = {
    "kind": "meter",
    "header_line": 0,
    "roles": ["ignored", "glucose"],
    "glucose_unit": "mg/dL",
    "date_order": None,
    "decimal": ".",
    "time_zone": None,
    "header_hash_input": ["one", "two"],
}
# What the forms and calls behind these addresses want, so that none is refused before it has looked whose it is.
SENT = {
    "answer": "stands",
    "ground": "readings_right",
    "group": "everyone",
    "action": "approve",
    "question": "site",
    "first_day": "2031-02-01",
    "wakes_at": "07:00",
    "understood": "on",
}
OF_A_CALL = {
    "answer/": ("answer",),
    "appeal/": ("ground",),
    "group/": ("group",),
    "decision/": ("action",),
    "question/": ("question",),
    ".ics": ("first_day", "wakes_at"),
}


def routes(resolver=None, before=""):
    for pattern in (resolver or get_resolver()).url_patterns:
        route = before + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from routes(pattern, route)
        elif set(ID.findall(route)) & set(OF_MEMBERS):
            yield route


@pytest.fixture
def held(contributor, upload, catalogue):
    """One of each kind, and the ids by which the addresses name them."""
    wearer = wearer_of(contributor.account, None)
    told = {"spots": [{"site": "calf"}, {"site": "chest"}], "sensor_model": catalogue[0]}
    plan = register_plan(contributor.account, told, wearer=wearer, document=document_of_everyone())
    return {
        "wear_id": upload(contributor).pk,
        "plan_id": plan.pk,
        "mapping_id": remember_mapping(contributor.account, MAPPING).pk,
    }


def answers(person, browser, route, ids):
    """What each method gets at this address, with its body, by a name that says which."""
    address = "/" + re.sub(r"<\w+:(\w+)>", lambda part: str((ids | FILLED_IN)[part[1]]), route)
    if not route.startswith("api/"):
        return {method: getattr(browser, method)(address, SENT) for method in ("get", "post")}
    wanted = next((names for end, names in OF_A_CALL.items() if route.endswith(end)), ())
    body = {name: SENT[name] for name in wanted}
    return {
        "get": person.api.get(address),
        **{method: getattr(person.api, method)(address, body) for method in ("post", "put", "patch", "delete")},
    }


def test_what_a_member_holds_is_nothing_to_anybody_else(held, stranger, contributor, moderator, browser_for):
    tried, differ = 0, []
    nothing = {name: uuid4() for name in held}
    for route in routes():
        for person in (stranger, moderator):  # the moderator of the group that the wear was not given to
            theirs, none = (answers(person, browser_for(person), route, ids) for ids in (held, nothing))
            for method, answer in theirs.items():
                tried += answer.status_code != 405
                if answer.status_code not in (404, 405) or answer.status_code != none[method].status_code:
                    differ.append((route, method, answer.status_code, none[method].status_code))
    assert differ == []
    assert tried > 50
    own = answers(contributor, browser_for(contributor), "api/v1/wears/<uuid:wear_id>/", held)
    assert own["get"].status_code == 200
