"""``python -m cablewalk``, and the ``cablewalk`` command."""

import signal


def main() -> None:
    """Run the command line and exit; Ctrl-C while it is being imported ends it without a word."""
    before = signal.getsignal(signal.SIGINT)
    if before is signal.default_int_handler:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    from cablewalk.cli import main as run

    signal.signal(signal.SIGINT, before)
    run()


if __name__ == "__main__":
    main()
