"""``python -m gapmap`` is the command ``gapmap``."""

from gapmap.cli.app import main

if __name__ == "__main__":
    main()
