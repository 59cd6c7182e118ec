"""The tests of these folders that run on both databases: tests/both.py."""

from tests.both import app, kept_in, pytest_generate_tests, store, where

__all__ = ["app", "kept_in", "pytest_generate_tests", "store", "where"]
