"""The shape room: what is added to the sculpt to make a buck of it."""
