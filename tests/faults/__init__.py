"""The real program under everything that may go wrong around it, and what somebody in front of it sees."""
