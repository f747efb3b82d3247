"""Evaluation on Ray: a pool behind the search's pool protocol, and how a machine joins as a worker."""
