"""Glasses: the published catalogue, the user's own analyses, and what the estimate says of them."""
