"""Measurements of pools: python -m workers.bench.NAME. Numbers and what bounds them: docs/workers.md."""
