"""Whatever fits or nearly fits the OpenAPI description is answered, never with a failure of our own: requests made by schemathesis, the same ones each time."""

from contextlib import suppress

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable

from server.app import create_app
from server.settings import Settings
from tests.books import empty_book

EXAMPLES = 60
REFUSALS = "application/problem+json"
quick = settings(max_examples=EXAMPLES, derandomize=True, database=None, deadline=None, phases=[Phase.explicit, Phase.generate], suppress_health_check=list(HealthCheck))


@pytest.fixture(scope="module")
def schema(tmp_path_factory):
    app = create_app(Settings(database=empty_book(tmp_path_factory.mktemp("openapi") / "bench.db")))
    found = schemathesis.openapi.from_asgi("/openapi.json", app, headers={"Host": "127.0.0.1"})
    found.config.update(base_url="http://127.0.0.1")
    yield found
    app.state.store.close()


@pytest.fixture(scope="module")
def operations(schema):
    return {found.ok().label: found.ok() for found in schema.get_all_operations()}


def test_the_description_names_what_tablets_and_programs_ask(operations):
    assert {"POST /sync/push", "GET /sync/feed.json", "GET /sync/mark.json", "GET /health"} <= set(operations)


@pytest.mark.parametrize("mode", list(schemathesis.GenerationMode), ids=lambda mode: mode.value)
def test_nothing_that_is_sent_makes_it_fail(operations, mode):
    asked = 0

    def ask(operation):
        @quick
        @given(case=operation.as_strategy(generation_mode=mode))
        def one(case):
            nonlocal asked
            asked += 1
            answer = case.call(headers={"Host": "127.0.0.1"})
            assert answer.status_code < 500, (operation.label, answer.status_code, answer.text[:300])
            if answer.status_code >= 400 and "json" in str(answer.headers.get("content-type")):
                assert answer.headers["content-type"] in (REFUSALS, [REFUSALS]) and set(answer.json()) >= {"title", "status", "detail", "code"}

        with suppress(Unsatisfiable):  # nothing can be asked wrongly where nothing is asked
            one()

    for operation in operations.values():
        ask(operation)
    assert asked > EXAMPLES * 2
