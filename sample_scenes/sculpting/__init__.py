"""The tools that the sample sculpts are made with."""
