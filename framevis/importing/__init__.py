"""Readings from gauges and spreadsheets: what a file says, shown before it is taken."""
