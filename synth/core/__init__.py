"""The words of the language: arrays, family declaration, topology, geometry, joints, masses, status."""
