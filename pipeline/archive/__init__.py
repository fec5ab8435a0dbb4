"""A stage: from tables that are handed to it to the package a repository takes. Knows no other stage, no database, no clock."""
