"""From files to checked records: frame.toml and the readings. Every problem is said with its file and line."""
