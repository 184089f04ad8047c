"""A sculpt scaled to a named measurement, and a slice of it to try on."""
