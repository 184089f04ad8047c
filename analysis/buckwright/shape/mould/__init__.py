"""A female mould: a block with a cavity, its land around and its walls outside."""
