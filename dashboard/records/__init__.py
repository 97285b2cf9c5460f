"""What people write down: entries, the journal that keeps them, and their way into visits.csv and captures.csv."""
