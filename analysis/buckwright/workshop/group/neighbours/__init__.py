"""Bucks of other jobs that stand in the same opening."""
