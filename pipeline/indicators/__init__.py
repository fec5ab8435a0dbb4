"""Estimators: numbers in, one frozen `Estimate` out. Nothing here touches a file, a database or the clock."""
