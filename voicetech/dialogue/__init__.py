"""The conversation: from words and ticks to events, and from events to a reply."""
