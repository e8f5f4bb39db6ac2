"""Where a reading's uncertainty comes from, and what of it reaches the verdicts."""
