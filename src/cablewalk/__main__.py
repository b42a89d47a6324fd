"""``python -m cablewalk``."""

from cablewalk.cli import main

main()
