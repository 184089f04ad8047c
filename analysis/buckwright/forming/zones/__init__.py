"""Zones of the heater: how warm the sheet gets under each."""
