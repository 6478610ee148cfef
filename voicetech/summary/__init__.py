"""What a job adds up to for a list, a search and figures over many jobs: folded from its events, never stored there."""
