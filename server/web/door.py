"""By which door a request came in: whoever sits at the machine uses the desk's own, tablets come over the network."""

DOOR = "isokom.door"
DESK, LAN = "desk", "lan"


class Door:
    """ASGI: marks every request with the door that it came by."""

    def __init__(self, app, door: str):
        self.app, self.door = app, door

    async def __call__(self, scope, receive, send) -> None:
        await self.app({**scope, DOOR: self.door} if scope["type"] == "http" else scope, receive, send)


def door_of(scope, host: str) -> str:
    """The door of a request: as marked, else the desk's where the server listens on this machine alone."""
    return scope.get(DOOR) or (DESK if host in ("127.0.0.1", "::1", "localhost") else LAN)
