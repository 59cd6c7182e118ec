"""Measured tests of the bench: glass fused, stripped, pulled and drawn to a thread, kept as entries and reckoned at the desk."""
