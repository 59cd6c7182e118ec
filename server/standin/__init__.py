"""Stand-ins: which modern glass works like an ancient one, and which ancient glasses a rod stands in for."""
