"""The network that measures feet from above."""
