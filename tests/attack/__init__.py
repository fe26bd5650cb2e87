"""Attacks: generated inputs and damaged results, against independent models."""
