"""Plans of sessions: what is tried in which order, and what is covered. A test of any kind names the session, run and code that it belongs to; this domain knows none of them."""
