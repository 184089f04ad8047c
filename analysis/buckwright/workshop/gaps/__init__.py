"""Gap to the frame against waste: what a wider opening does to the part, and what it costs."""
