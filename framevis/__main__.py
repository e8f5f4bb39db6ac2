"""`python -m framevis`: the same as the `framevis` command."""

from framevis.cli import main

if __name__ == "__main__":
    main()
