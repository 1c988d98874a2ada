"""Files in: one module a format, and `folders`, which composes them into a property."""
