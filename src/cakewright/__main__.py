"""`python -m cakewright`."""

from cakewright.cli import main

main()
