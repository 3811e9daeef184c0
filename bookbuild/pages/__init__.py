"""From drawn systems and text to pages and a PDF."""
