"""Every route of the app, those of the domains' routers too."""

from collections.abc import Iterator


def every_route(app) -> Iterator[tuple[str, str]]:
    """(method, path with its {names}) of each."""
    for outer in app.routes:
        inner = outer.original_router.routes if hasattr(outer, "original_router") else [outer]
        for route in inner:
            for method in sorted(getattr(route, "methods", None) or ()):
                yield method, route.path
