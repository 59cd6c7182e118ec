"""What every forked server has from the start: the program, and the catalogue's pages, which are the same for all of them."""

from server.glass.routes import CATALOGUE_PAGES

CATALOGUE_PAGES.fill()
