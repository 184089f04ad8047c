"""The pull log: what was done and what came out, what it says of heater and sheet, what to try next."""
