"""The shape room: what is added to the sculpt to make it a buck."""
