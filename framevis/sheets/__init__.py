"""Sheets for the machine: stations of every sweep as blank CSV files, and one page to print with a sketch of each."""
