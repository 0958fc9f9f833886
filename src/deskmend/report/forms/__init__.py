"""Forms to fill in: blank files, and the interview."""
