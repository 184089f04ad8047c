"""The machine: what it takes, how its vacuum falls, and which holes of its platen stay open."""
