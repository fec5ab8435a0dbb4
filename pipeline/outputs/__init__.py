"""What people and programs read: the figures' table and the letters. Everything reads the one list of figures."""
