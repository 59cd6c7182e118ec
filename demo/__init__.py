"""A seeded, invented workshop. No site, find, person or maker in it is real."""
