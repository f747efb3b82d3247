"""Fronts: their rows, their indicators, how they nest across envelopes, and the files that hold them."""
