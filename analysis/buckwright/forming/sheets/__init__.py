"""Sheet materials and their data."""
