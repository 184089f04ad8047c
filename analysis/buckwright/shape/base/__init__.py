"""What the sculpt stands on."""
