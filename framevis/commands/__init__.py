"""The commands, by what they are for; each file registers its own with the app of `common`."""
