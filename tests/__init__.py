"""The tests, in folders that mirror the rooms of the package."""
