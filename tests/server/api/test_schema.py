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


def test_every_call_says_how_it_fails_and_every_json_result_has_the_caution(described):
    n_results = 0
    for path, operations in described["paths"].items():
        for method, operation in operations.items():
            assert "application/problem+json" in operation["responses"]["default"]["content"], (method, path)
            for status, answer in operation["responses"].items():
                schema = answer.get("content", {}).get("application/json", {}).get("schema")
                if schema is not None:
                    assert {"$ref": "#/components/schemas/Cautioned"} in schema["allOf"], (method, path, status)
                    n_results += 1
    assert n_results > 5


def test_calls_that_need_a_token_say_so(described):
    path = next(path for path in described["paths"] if path.endswith("me/wearers/"))
    assert described["paths"][path]["get"]["security"] == [{"bearer": []}]
