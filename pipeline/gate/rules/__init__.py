"""The rules about rows, a module a family: each is a value that says what is wanted, what comes of it, and where it is hit."""
