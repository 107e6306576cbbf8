"""The command line: one module a command, each with `add(subparsers)` and `run(args) -> exit status`."""
