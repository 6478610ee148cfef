"""What a finished job looks like on paper and screen."""
