"""The command line: one module a command, each calling one public function."""
