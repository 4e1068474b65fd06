"""`python -m leakdown`: the same as the `leakdown` command."""

from leakdown.cli.app import main

main()
