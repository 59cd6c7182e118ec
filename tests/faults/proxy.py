"""A line between two machines on which things go wrong, one request at a time: lost, lost on the way back, told twice, late, cut or changed."""

import threading
from http.client import HTTPConnection, HTTPException
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from random import Random

FAULTS = ("request lost", "reply lost", "twice", "late", "request cut", "reply cut", "request changed", "reply changed")
HOP = {"connection", "keep-alive", "transfer-encoding", "content-length", "host"}
SIGNS = b"0123456789abcdef"


class Proxy:
    """Between a client and 127.0.0.1:port. `share` of the requests meet a fault, by dice of their own; `met` counts which."""

    def __init__(self, port: int, seed: int, share: float):
        self.port, self.dice, self.share = port, Random(seed), share
        self.met = dict.fromkeys(FAULTS, 0)
        self.waiting: list[tuple[str, str, dict, bytes]] = []
        self.lock = threading.Lock()
        handler = type("Handler", (_Handler,), {"proxy": self})
        self.server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
        self.server.daemon_threads = True
        self.thread = threading.Thread(target=self.server.serve_forever, args=(0.02,), daemon=True)
        self.url = f"http://127.0.0.1:{self.server.server_address[1]}"

    def __enter__(self) -> "Proxy":
        self.thread.start()
        return self

    def __exit__(self, *_error) -> None:
        self.server.shutdown()
        self.server.server_close()

    def fault(self) -> str:
        """What becomes of this request."""
        with self.lock:
            if self.dice.random() >= self.share:
                return ""
            found = self.dice.choice(FAULTS)
            self.met[found] += 1
            return found

    def changed(self, content: bytes) -> bytes:
        """One sign of it is another; mostly still JSON of the same shape."""
        places = [i for i, sign in enumerate(content) if sign in SIGNS]
        if not places:
            return content
        place = self.dice.choice(places)
        other = self.dice.choice([sign for sign in SIGNS if sign != content[place]])
        return content[:place] + bytes([other]) + content[place + 1 :]

    def passed_on(self, method: str, path: str, headers: dict, body: bytes) -> tuple[int, dict, bytes]:
        """(status, headers, content) of the real answer, after whatever was held back has gone ahead of it or not."""
        connection = HTTPConnection("127.0.0.1", self.port, timeout=30)
        try:
            connection.request(method, path, body or None, headers)
            answer = connection.getresponse()
            return answer.status, dict(answer.getheaders()), answer.read()
        finally:
            connection.close()

    def cut(self, method: str, path: str, headers: dict, body: bytes) -> None:
        """Half a request, and then nobody."""
        connection = HTTPConnection("127.0.0.1", self.port, timeout=30)
        connection.putrequest(method, path)
        for name, value in {**headers, "Content-Length": str(len(body))}.items():
            connection.putheader(name, value)
        connection.endheaders(body[: len(body) // 2])
        connection.close()

    def let_go(self) -> None:
        """What was held back arrives now, after others that were sent later."""
        with self.lock:
            held, self.waiting = self.waiting, []
        for one in held:
            self.passed_on(*one)


class _Handler(BaseHTTPRequestHandler):
    proxy: Proxy
    protocol_version = "HTTP/1.0"

    def log_message(self, *_words) -> None:
        """Nothing."""

    def _one(self) -> None:
        body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
        headers = {name: value for name, value in self.headers.items() if name.lower() not in HOP}
        asked = (self.command, self.path, headers, body)
        how = self.proxy.fault()
        if how == "request lost":
            return self._break()
        if how == "late":
            self.proxy.waiting.append(asked)
            return self._break()
        if how == "request cut":
            self.proxy.cut(*asked)
            return self._break()
        if how == "request changed":
            asked = (*asked[:3], self.proxy.changed(body))
        try:
            status, told, content = self.proxy.passed_on(*asked)
            if how == "twice":
                status, told, content = self.proxy.passed_on(*asked)
        except (OSError, HTTPException):
            return self._break()
        if how not in ("reply lost", "late"):
            self._answer(status, told, self.proxy.changed(content) if how == "reply changed" else content, len(content) // 2 if how == "reply cut" else None)
        self.proxy.let_go()

    do_GET = do_POST = _one

    def _break(self) -> None:
        self.close_connection = True
        self.connection.close()

    def _answer(self, status: int, headers: dict, content: bytes, only: int | None) -> None:
        self.send_response_only(status)
        for name, value in headers.items():
            if name.lower() not in HOP:
                self.send_header(name, value)
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        self.wfile.write(content[:only])
