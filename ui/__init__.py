"""What the technician meets: commands, pages and the words they use."""
