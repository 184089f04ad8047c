"""The pose room: from a file to a closed part that stands in the pull frame, its foot on z = 0."""
