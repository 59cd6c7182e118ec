"""Unit tests of the cautions."""
