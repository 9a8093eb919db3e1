"""Mangled inputs of ten kinds through the commands as people type them."""
