"""Two stages held against each other: did a correction do what it should?"""
