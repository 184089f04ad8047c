"""The 3-D view of the job sheet: what it shows, and the script that turns it."""
