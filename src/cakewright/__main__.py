"""`python -m cakewright`."""

from cakewright.cli import main

if __name__ == "__main__":
    main()
