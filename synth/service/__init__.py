"""The job service: a durable queue of runs behind one object (jobs.Jobs), an HTTP interface and a page.

Imports nothing of app: what a command would do is handed in as an engine.Engine.
"""
