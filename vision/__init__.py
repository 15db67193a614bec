"""From photographs of a board to what can be said about the chips on it."""
