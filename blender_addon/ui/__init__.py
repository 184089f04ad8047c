"""What the user presses and reads: operators, panels, menus. Nothing else knows it."""
