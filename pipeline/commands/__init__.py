"""The commands, a module a topic: each registers its own and holds what they do. Flags in, functions called, text out."""
