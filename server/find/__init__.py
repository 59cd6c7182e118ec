"""Finds on loan: consent, pieces, what became of every gram, photos, labels."""
