"""A buck that is hollow from beneath: a shell with ribs, or a shell to be cast full."""
