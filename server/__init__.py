"""Isokom: the bench book of people who study ancient glass by working it."""

__version__ = "0.1.0"
