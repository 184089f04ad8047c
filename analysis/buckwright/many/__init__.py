"""Many jobs at once: what is to be done, who does it, what is done already, and the table of it all.

Nothing is imported here: a command that only reads its options should not wait for geometry.
"""
