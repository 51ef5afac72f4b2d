"""One module a command: its docstring is the help, `arguments(parser)` and `run(args) -> int` do the rest."""
