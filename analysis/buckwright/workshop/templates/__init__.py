"""Templates at 1:1: blank, mask plate, clamp frame, base board, edge strip."""
