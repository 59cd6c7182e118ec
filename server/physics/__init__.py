"""Glass physics: pure functions on numpy arrays, and published models kept as data. No I/O but table.py, no clock."""
