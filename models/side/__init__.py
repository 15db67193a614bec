"""The network that finds feet in photos taken nearly along the board."""
