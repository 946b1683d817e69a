"""The addresses: parse, call, render."""
