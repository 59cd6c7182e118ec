"""One answer that holds many files, {address: text}: a new tablet asks once instead of hundreds of times. Compressed once, since it is the same for all."""

import gzip
import json
from collections.abc import Callable

from fastapi import Request
from fastapi.responses import Response


class Packed:
    """files() is asked at the first request; the worker gives each file its type by the ending of its address (static/web/worker.js)."""

    def __init__(self, files: Callable[[], dict[str, str]]):
        self.files = files
        self.plain, self.small = b"", b""

    def fill(self) -> None:
        """Make the answer, unless it is made."""
        if not self.plain:
            self.plain = json.dumps(self.files(), ensure_ascii=False).encode()
            self.small = gzip.compress(self.plain, mtime=0)

    def answer(self, request: Request, cache_control: str) -> Response:
        """The answer, compressed where the client takes that."""
        self.fill()
        headers = {"Cache-Control": cache_control, "Vary": "Accept-Encoding"}
        if "gzip" in request.headers.get("accept-encoding", ""):
            return Response(self.small, media_type="application/json", headers={**headers, "Content-Encoding": "gzip"})
        return Response(self.plain, media_type="application/json", headers=headers)
