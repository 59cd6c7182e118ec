"""Pages, the offline shell and failures: what every domain's routes share."""
