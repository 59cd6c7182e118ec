"""httpx on the app in this process, through its ASGI transport, without a port."""

import asyncio

import httpx


class Client:
    """A synchronous face of httpx.AsyncClient with ASGITransport; one call, one request."""

    def __init__(self, app, base_url: str = "http://127.0.0.1"):
        self.app = app
        self.base_url = base_url

    def request(self, method: str, path: str, **options) -> httpx.Response:
        """The app's answer; redirects are not followed."""
        return asyncio.run(self._request(method, path, options))

    async def _request(self, method: str, path: str, options: dict) -> httpx.Response:
        transport = httpx.ASGITransport(app=self.app)
        async with httpx.AsyncClient(transport=transport, base_url=self.base_url) as client:
            return await client.request(method, path, **options)

    def get(self, path: str, **options) -> httpx.Response:
        return self.request("GET", path, **options)

    def post(self, path: str, **options) -> httpx.Response:
        return self.request("POST", path, **options)
