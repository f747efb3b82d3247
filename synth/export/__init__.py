"""What people look at: text, pictures; one module a kind."""
