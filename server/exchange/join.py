"""How another machine lets this one in: the link that its page “Devices” shows, `https://name:port/join#c=CODE&f=FINGERPRINT`."""

import hashlib
import hmac
import ssl
from urllib.parse import parse_qs, urlsplit

import httpx

from server.errors import Refused, Unavailable
from server.exchange.remote import NOT_TRUSTED, PATIENCE_S, trusting, why

CERTIFICATE = "/isokom-ca.crt"  # as the other machine shows it to those who do not trust it yet
LARGEST_CERTIFICATE = 20_000


def taken_apart(link: str) -> tuple[str, str, str]:
    """(address, code, fingerprint) of a link; code and fingerprint empty where it is a bare address. Raises Refused."""
    try:
        parts = urlsplit(link if "//" in link else f"https://{link}")
        port = parts.port
    except ValueError:
        raise Refused(f"{link[:100]} is no address: its host or port cannot be read.", code="bad_link") from None
    is_here = parts.hostname in ("localhost", "127.0.0.1", "::1")
    if not parts.hostname or parts.username or parts.scheme not in ("https", "http") or (parts.scheme == "http" and not is_here):
        raise Refused(f"{link[:100]} is no address of another machine. It begins with https://.", code="bad_link")
    host = f"[{parts.hostname}]" if ":" in parts.hostname else parts.hostname
    told = parse_qs(parts.fragment)
    return f"{parts.scheme}://{host}{f':{port}' if port else ''}", told.get("c", [""])[0], told.get("f", [""])[0].replace(":", "").replace(" ", "").lower()


def _certificate(address: str, fingerprint: str) -> str:
    """The authority that signs the other machine's certificates, as PEM, after its fingerprint was compared: the link says which it must be, so nobody on the way can put another in its place."""
    try:
        answer = httpx.get(address + CERTIFICATE, verify=False, timeout=PATIENCE_S, follow_redirects=False)
    except httpx.TransportError as error:
        raise Unavailable(f"{address} does not answer ({why(error)}). Nothing was joined; the code still counts until its time is over.") from error
    found = answer.content[:LARGEST_CERTIFICATE]
    if answer.status_code != 200 or not hmac.compare_digest(hashlib.sha256(found).hexdigest(), fingerprint):
        raise Refused(f"{address} is not the machine that the link speaks of: its certificate has another fingerprint. The code was not sent.", code="not_trusted")
    return ssl.DER_cert_to_PEM_cert(found)


def joined(link: str, name: str) -> tuple[str, str, str]:
    """(address, token, certificate to trust) once the other machine has let this one in. Raises Refused or Unavailable."""
    address, code, fingerprint = taken_apart(link)
    if not code:
        raise Refused("This link holds no code. On the other machine open “Devices”, let in a server, and give the whole link that it shows.", code="no_code")
    trust = _certificate(address, fingerprint) if fingerprint else ""
    try:
        with httpx.Client(verify=trusting(trust) if address.startswith("https:") else True, timeout=PATIENCE_S) as client:
            answer = client.post(f"{address}/join", json={"code": code, "name": name, "kind": "server"}, headers={"Accept": "application/json", "Origin": address})
        told = answer.json()
    except httpx.TransportError as error:
        if NOT_TRUSTED in str(error):
            raise Refused(f"{address} shows a certificate that this machine does not trust, and the link lacks the fingerprint of it. Copy the whole link from its page “Devices”.", code="not_trusted") from error
        raise Unavailable(f"{address} does not answer ({why(error)}). Ask for a new link if this one was used up.") from error
    except ValueError as error:
        raise Unavailable(f"{address} answers, but not as an Isokom does. Is the address right?", code="other_program") from error
    token = told.get("token") if isinstance(told, dict) else None
    if answer.status_code != 200 or not isinstance(token, str) or not token:
        raise Refused(str(told.get("detail", "The other machine did not let this one in."))[:300] if isinstance(told, dict) else "The other machine did not let this one in.", code="not_let_in")
    if told.get("role") == "guest":
        raise Refused(f"This link lets in a guest, which reads a few pages and exchanges nothing. At {address} turn that guest away, and let in a machine instead.", code="guest")
    return address, token, trust
