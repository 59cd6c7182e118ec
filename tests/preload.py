"""What every forked server has from the start: the program with all that it would load at its first request, its templates, and the catalogue's pages, which are the same for all of them."""

import gc
import importlib

from server.glass.routes import CATALOGUE_PAGES
from server.web.page import environment
from server.web.shell import ASSETS

LOADED_LATE = ("anyio._backends._asyncio", "h11", "httpcore", "sqlalchemy.dialects.sqlite", "uvicorn.lifespan.on", "uvicorn.loops.auto", "uvicorn.protocols.http.auto", "uvicorn.protocols.websockets.auto")

for name in LOADED_LATE:
    importlib.import_module(name)
for name in environment().list_templates():
    environment().get_template(name)
for packed in (CATALOGUE_PAGES, ASSETS):
    packed.fill()
gc.collect()
gc.freeze()  # what is here stays: a child that looked through all of it for waste would copy it
