"""What the data is: kinds, units, declared tables, finding codes, settings, the property."""
