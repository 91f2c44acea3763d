"""The commands: parse, call, print. The only place that sees every room."""
