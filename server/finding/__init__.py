"""What the times say: profiles, scatter, likeness, the unknown piece. Reads trials and sessions, stores nothing."""
