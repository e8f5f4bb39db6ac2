"""The force to move a carriage, held against the predicted drag, and what can be fitted to it."""
