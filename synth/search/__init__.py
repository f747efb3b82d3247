"""The search: islands of cells, a bandit for the budget, archives, verification, checkpoints, the pool protocol."""
