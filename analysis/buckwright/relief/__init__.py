"""The relief room: what can be seen of a mesh along the pull."""
