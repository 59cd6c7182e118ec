"""Torch trials: what a person pressed at the bench, kept as entries and read as times."""
