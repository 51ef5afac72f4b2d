"""Packets out, events home. `receive.py` is the one dangerous flow; what it decides is decided
purely beside it.
"""
