"""Parts and their roll-up."""
