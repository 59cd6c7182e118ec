"""Entries from the tablets: a batch in, a verdict for each."""
