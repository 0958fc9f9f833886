"""The exact sharing of a fund over plans of people, knowing nothing of desks."""
