"""What nobody thought of is told in words and in the one shape, with a way back, and raised further for the log."""

import asyncio

import httpx
import pytest


@pytest.mark.parametrize(("accept", "kind"), [("text/html", "text/html"), ("application/json", "application/problem+json")])
def test_an_error_of_our_own_is_a_page_and_tells_nothing_of_the_inside(app, monkeypatch, accept, kind):
    def broken(*_args):
        raise RuntimeError("an inner secret")

    monkeypatch.setattr("server.keeping.backups.listed", broken)

    async def ask() -> httpx.Response:
        transport = httpx.ASGITransport(app=app, raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as client:
            return await client.get("/keeping", headers={"accept": accept})

    told = asyncio.run(ask())
    assert told.status_code == 500 and told.headers["content-type"].startswith(kind)
    assert "went wrong in Isokom itself" in told.text and "inner secret" not in told.text and "Traceback" not in told.text
