"""Running deskmend as ``python -m deskmend``."""

from deskmend.cli import main

if __name__ == "__main__":
    main()
