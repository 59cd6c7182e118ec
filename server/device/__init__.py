"""Whether a device is fit for the bench: it tries itself on its own page, and what it found is kept with its number."""
