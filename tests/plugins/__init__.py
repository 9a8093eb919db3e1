"""Packages of somebody else's, installed by pip and used by the commands."""
