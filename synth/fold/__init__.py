"""Motion: trees, loops, the path, and the proof that nothing meets."""
