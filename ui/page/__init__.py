"""The local page: a gate, the screens behind it, and the process that looks."""
