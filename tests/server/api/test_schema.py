import pytest
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.validation import validate_schema


@pytest.fixture(scope="module")
def described():
    GENERATOR_STATS.reset()
    return SchemaGenerator().get_schema(request=None, public=True)


def test_the_description_is_valid_and_the_generator_had_no_doubts(described):
    validate_schema(described)
    assert not GENERATOR_STATS


# The caution is drawn into a chart; an edition has its own, which is a part of what is signed.
OWN_CAUTION = {"edition_chart", "edition_read", "edition_read_latest"}


def test_no_call_leaves_open_how_it_answers_and_every_json_result_has_the_caution(described):
    n_results = 0
    for path, operations in described["paths"].items():
        for method, operation in operations.items():
            assert "default" not in operation["responses"], (method, path)
            assert {"500", "503"} <= set(operation["responses"]), (method, path)
            for status, answer in operation["responses"].items():
                schema = answer.get("content", {}).get("application/json", {}).get("schema")
                if schema is not None and operation["operationId"] not in OWN_CAUTION:
                    assert {"$ref": "#/components/schemas/Cautioned"} in schema["allOf"], (method, path, status)
                    assert schema["unevaluatedProperties"] is False, (method, path, status)
                    n_results += 1
    assert n_results > 5


def test_what_a_call_refuses_beyond_what_follows_from_it_stands_at_the_call(described):
    founding = described["paths"]["/api/v1/groups/"]["post"]["responses"]
    assert set(founding) == {"201", "400", "401", "406", "409", "413", "415", "422", "429", "500", "503"}
    ending = described["paths"]["/api/v1/me/second-factor/"]["delete"]
    assert set(ending["requestBody"]["content"]) == {"application/json"}


def test_calls_that_need_a_token_say_so(described):
    path = next(path for path in described["paths"] if path.endswith("me/wearers/"))
    assert described["paths"][path]["get"]["security"] == [{"bearer": []}]


# What comes in as parts of a form is looked at by hand, and tried where the call is.
READ_BY_HAND = {"multipart/form-data"}
# Takes back a mapping as the preview gave it; the parts that are kept are named (accounts.services.KEPT_OF_A_MAPPING).
KEEPS_WHAT_IT_NAMES = {"mapping_remember"}


def objects_in(schema, described):
    """Every object that a body may hold, as far as the description follows it."""
    if "$ref" in schema:
        schema = described["components"]["schemas"][schema["$ref"].rpartition("/")[2]]
    if schema.get("type") == "object" and "properties" in schema:
        yield schema
    for part in (*schema.get("properties", {}).values(), *schema.get("allOf", ()), schema.get("items", {})):
        if part:
            yield from objects_in(part, described)


def test_no_body_takes_a_field_that_is_not_named(described):
    bodies = [
        (operation["operationId"], body)
        for operations in described["paths"].values()
        for operation in operations.values()
        for media, content in operation.get("requestBody", {}).get("content", {}).items()
        if media not in READ_BY_HAND
        for body in objects_in(content["schema"], described)
    ]
    assert len(bodies) > 20
    assert {name for name, body in bodies if body.get("additionalProperties") is not False} == KEEPS_WHAT_IT_NAMES


def test_nothing_about_anybody_is_asked_for_in_an_address(described):
    """Ids are random, slugs are a group's; the rest says which part of a document is meant, or of which sites."""
    asked = {
        parameter["name"]
        for operations in described["paths"].values()
        for operation in operations.values()
        for parameter in operation.get("parameters", ())
        if parameter["in"] in ("path", "query")
    }
    ids = {name for name in asked if name.endswith("_id") or name in ("member", "invitation")}
    of_a_document = {"number", "table", "chart", "file_format", "unit", "after", "site", "sensor_model"}
    assert asked - ids == {"slug", "group"} | of_a_document
