"""People: the command line, the pages, the words. May use `hydro` and `ecology`."""
