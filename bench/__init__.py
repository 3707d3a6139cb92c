"""Benchmarks: figures as ratios measured in one run, never a test."""
