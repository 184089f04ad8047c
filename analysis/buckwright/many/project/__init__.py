"""The parts of one costume or model: one project file, one cutting plan, one job sheet."""
