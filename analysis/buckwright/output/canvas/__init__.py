"""What every picture is drawn with; knows nothing of bucks."""
