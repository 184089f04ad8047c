"""Channels, fixings and lettering on the underside."""
