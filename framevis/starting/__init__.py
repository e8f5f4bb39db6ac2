"""A new frame: questions, a machine laid out from the answers, and its commented frame.toml."""
