"""The finished buck."""
