"""The command line: one file a command; parses, calls the library, prints, nothing else."""
