"""What runs for minutes or hours: the mutation fuzzer over both kinds of document."""
