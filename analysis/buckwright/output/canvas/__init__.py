"""What every picture is drawn with; knows no buck."""
