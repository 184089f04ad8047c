"""Whether the vents let the forecast sheet settle everywhere."""
