"""Unit tests of the store."""
