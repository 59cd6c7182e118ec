"""Digests against the examples of RFC 9530, appendix B (the body {"hello": "world"} with and without a line's end; reckoned again with openssl)."""

import pytest

from server.sync.digest import digest_of, fits
from tests.client import Client
from tests.entries import whole_trial

LINE, BARE = b'{"hello": "world"}\n', b'{"hello": "world"}'
OF_LINE, OF_BARE = "sha-256=:RK/0qy18MlBSVnWgjwz6lZEWjP/lF5HF9bvEF8FabDg=:", "sha-256=:X48E9qOokqqrvdts8nOJRJN3OWDUoyWxBf7kbu9DBPE=:"


def test_the_examples():
    assert (digest_of(LINE), digest_of(BARE)) == (OF_LINE, OF_BARE)
    assert fits(OF_LINE, LINE) and not fits(OF_LINE, BARE)


@pytest.mark.parametrize(("field", "is_fit"), [("", True), ("sha-512=:AAAA:", True), (f"sha-512=:AAAA:, {OF_BARE}", True), (f"{OF_LINE}, sha-512=:AAAA:", False), ("sha-256=:not base64 at all:", True), ("sha-256=:AAA:", False), ("sha-256=::", False)])
def test_fields_of_several_algorithms_and_none(field, is_fit):
    """A recipient may pass over what it does not know (RFC 9530, 2)."""
    assert fits(field, BARE) is is_fit


def test_a_changed_body_is_refused_before_anything_of_it_is_stored(app):
    import json

    client, body = Client(app), json.dumps({"entries": whole_trial()}).encode()
    headers = {"Content-Type": "application/json", "Content-Digest": digest_of(body)}
    refused = client.post("/sync/push", content=body.replace(b"Demo Rubin", b"Demo Rubim"), headers=headers)
    assert (refused.status_code, refused.json()["code"]) == (422, "digest")
    stored = client.post("/sync/push", content=body, headers=headers)
    assert {one["verdict"] for one in stored.json()["verdicts"]} == {"stored"}
    assert fits(stored.headers["Unencoded-Digest"], stored.content) and stored.headers["Unencoded-Digest"].startswith("sha-256=:")
