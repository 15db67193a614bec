"""``python -m ui`` is the same as ``dotward``."""

from ui.cli import main

if __name__ == "__main__":
    main()
