"""bookbuild turns tunes written once in YAML into a graded, printable accordion practice book."""

__version__ = "0.1.0"
