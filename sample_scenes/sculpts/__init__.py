"""The sample sculpts, one a file: each has `FILE`, `UNIT_MM` and `sculpt(coarse)`."""
