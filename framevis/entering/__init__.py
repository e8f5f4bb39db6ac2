"""Typing readings at the machine: what a line means, what is asked next, how it gets onto the disk."""
