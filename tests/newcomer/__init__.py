"""A procedure that was written from the guide alone."""
