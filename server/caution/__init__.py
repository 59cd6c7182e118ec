"""Cautions: the words, where they stand, and that they were read."""
