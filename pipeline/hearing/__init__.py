"""Hearing: footage and caption files to words."""
