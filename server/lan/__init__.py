"""HTTPS for the tablets on the local network: a private authority, this machine's stable name, the page that explains how to trust it, and the announcement."""
