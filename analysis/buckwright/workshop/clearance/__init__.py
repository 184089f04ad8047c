"""Clearance: how far the formed part stays off the body that it goes over."""
