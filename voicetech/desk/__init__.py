"""Jobs at work behind the laptop's page: each at a desk of its own, with the browser's microphone and voice."""
