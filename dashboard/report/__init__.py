"""The meeting report: the pages' answers and pictures on paper, in one file that needs nothing else."""
