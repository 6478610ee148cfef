"""The append-only record of every job."""
