"""The networks, and what makes them: scenes, training, export."""
