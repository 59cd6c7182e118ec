"""The other machine, asked over HTTPS. Every way in which it does not answer is one sentence."""

import ssl
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import httpx
from pydantic import BaseModel, ConfigDict, ValidationError

from server.errors import Differs, Refused, Unavailable
from server.sync.digest import FIELD, OF_ANSWERS, digest_of, fits
from server.sync.feed import Mark

PATIENCE_S = 30.0
TRIES, PAUSE_S = 3, 1.0
NOT_TRUSTED = "CERTIFICATE_VERIFY_FAILED"
# By what the system says of it (Linux, macOS, Windows: from memory).
NO_CONNECTION = {
    "refused": "nobody listens there", "unreachable": "no way leads there", "No route": "no way leads there", "Name or service": "its name is not found here",
    "name resolution": "its name is not found here", "nodename": "its name is not found here", "getaddrinfo": "its name is not found here",
}  # fmt: skip
SEVERAL = 300  # characters of a foreign sentence that are passed on


class Answer(BaseModel):
    """What another machine sends is checked before anything is believed; what a newer one adds is passed over."""

    model_config = ConfigDict(extra="ignore")


class Page(Answer):
    """A page of the other's feed."""

    entries: list[dict]
    next: Mark
    more: bool


class Verdict(Answer):
    id: str
    verdict: str
    code: str = ""
    message: str = ""


class Pushed(Answer):
    """What became of a batch."""

    verdicts: list[Verdict]
    head: Mark
    known: bool


class Place(Answer):
    known: bool
    head: Mark


class TooLarge(Refused):
    """The batch was more than the other machine takes at once."""

    code = "too_large"


class Other(Protocol):
    """What the exchange needs of the other machine."""

    def place(self, mark: Mark) -> Place: ...

    def feed(self, after: Mark, until: int) -> Page: ...

    def push(self, entries: list[str], after: Mark) -> Pushed: ...


def trusting(trust: str) -> ssl.SSLContext:
    """A context that believes the system's authorities, or only this certificate (PEM)."""
    return ssl.create_default_context(cadata=trust) if trust else ssl.create_default_context()


def why(error: Exception) -> str:
    """What went wrong on the line, in words."""
    if isinstance(error, httpx.TimeoutException):
        return "it takes too long"
    if isinstance(error, httpx.ConnectError):
        return next((words for sign, words in NO_CONNECTION.items() if sign in str(error)), "no connection comes about")
    return "what came was changed on its way" if isinstance(error, httpx.DecodingError) else "the connection broke"


@dataclass
class Remote:
    """A machine at an address, with the token that it gave."""

    address: str
    token: str
    trust: str = ""
    pause: Callable[[float], None] = time.sleep

    def __post_init__(self):
        headers = {"Authorization": f"Bearer {self.token}", "Accept": "application/json"} if self.token else {"Accept": "application/json"}
        verify = trusting(self.trust) if self.address.startswith("https:") else True
        self.client = httpx.Client(base_url=self.address, headers=headers, verify=verify, timeout=PATIENCE_S, follow_redirects=False)

    def close(self) -> None:
        self.client.close()

    def _ask(self, method: str, path: str, **options) -> httpx.Response:
        """The answer, asked up to three times where the line breaks: to repeat is harmless. Raises Unavailable."""
        for turn in range(TRIES):
            try:
                answer = self.client.request(method, path, **options)
                if not fits(answer.headers.get(OF_ANSWERS, ""), answer.content) or _code_of_refusal(answer) == "digest":
                    raise httpx.DecodingError("request or answer was changed on its way")
                return answer
            except (httpx.TransportError, httpx.DecodingError) as error:
                if NOT_TRUSTED in str(error):
                    raise Unavailable(f"{self.address} shows a certificate that is not the one it was let in with. Nothing was sent. If it was set up anew, join it again with its new link.", code="not_trusted") from error
                failed = error
            self.pause(PAUSE_S * turn)
        raise Unavailable(f"{self.address} does not answer ({why(failed)}). Nothing is lost by that; run it again and it goes on from where it was.") from failed

    def _read(self, shape: type[Answer], answer: httpx.Response) -> Answer:
        """The answer in its shape. Raises Refused, TooLarge, Differs or Unavailable."""
        if answer.status_code == 200:
            try:
                return shape.model_validate(answer.json())
            except (ValueError, ValidationError, RecursionError) as error:
                raise Unavailable(f"{self.address} answers, but not as an Isokom does. Is the address right?", code="other_program") from error
        said = _sentence(answer)
        if answer.status_code in (401, 403):
            raise Refused(f"{self.address} does not let this machine in ({said}). Ask there for a new link, on its page “Devices”.", code="not_let_in")
        if answer.status_code == 409:
            raise Differs(said, code="unknown_mark")
        if answer.status_code == 413:
            raise TooLarge(said)
        raise Unavailable(f"{self.address} could not answer ({answer.status_code}: {said}). Nothing is lost by that; run it again later.")

    def place(self, mark: Mark) -> Place:
        """Whether the other book still knows a place."""
        return self._read(Place, self._ask("GET", "/sync/mark.json", params=mark.model_dump()))

    def feed(self, after: Mark, until: int) -> Page:
        """Entries after a place in the other's book. Raises Differs where it was set back."""
        return self._read(Page, self._ask("GET", "/sync/feed.json", params={**after.model_dump(), "until": until}))

    def push(self, entries: list[str], after: Mark) -> Pushed:
        """Hand over entries (JSON texts)."""
        body = f'{{"entries": [{",".join(entries)}], "after": {after.model_dump_json()}}}'.encode()
        return self._read(Pushed, self._ask("POST", "/sync/push", content=body, headers={"Content-Type": "application/json", FIELD: digest_of(body)}))


def _code_of_refusal(answer: httpx.Response) -> str:
    """What kind of refusal it is; nothing for an answer that is none."""
    if answer.status_code != 422:
        return ""
    try:
        return str(answer.json().get("code", ""))
    except (ValueError, AttributeError, RecursionError):
        return ""


def _sentence(answer: httpx.Response) -> str:
    """What the other machine says of a refusal; plain text only, and not much of it."""
    try:
        told = answer.json().get("detail", "")
    except (ValueError, AttributeError, RecursionError):
        told = ""
    plain = "".join(c for c in str(told) if c.isprintable())[:SEVERAL]
    return plain.rstrip(".") or f"status {answer.status_code}"
