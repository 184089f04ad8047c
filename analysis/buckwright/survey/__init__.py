"""The survey room: what the sculpt is like. It changes nothing."""
