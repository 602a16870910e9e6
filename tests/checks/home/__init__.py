"""Tests of `terrain_guard.checks.home`."""
