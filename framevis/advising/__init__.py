"""What to measure next: which readings would settle most of what the verdicts leave open."""
