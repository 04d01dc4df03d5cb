"""``python -m sitepipe``."""

from sitepipe.cli import main

if __name__ == "__main__":
    main()
