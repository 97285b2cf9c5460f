"""One page a file: choose, ask an answer, show it."""
