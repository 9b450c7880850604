"""The command line, one file a command; words and exit codes stand in DEVELOPERS.md."""
