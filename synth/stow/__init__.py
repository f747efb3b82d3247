"""Packing: the size of everything once stowed, in a box or a cylinder."""
