"""Taught to the tool that tests the interface by its description: how a problem file is sent."""

import schemathesis

schemathesis.serializer.alias("application/toml", "text/plain")
