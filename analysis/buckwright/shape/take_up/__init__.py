"""Take-up blocks: placed where webs cross the trim line, and kept where the forecast shows that they help."""
