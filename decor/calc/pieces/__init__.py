"""One module for each kind of piece: its measures, and what they need in materials and work."""
