"""The mesh room: triangles, and the door through which a sculpt comes in."""
