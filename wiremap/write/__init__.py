"""Files out: one module a format, and `outputs`, which stages, verifies and replaces."""
