"""A picture on the part, printed on the flat sheet before it is formed."""
