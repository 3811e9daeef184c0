"""From lessons and drawn systems to the book as the page room knows it: texts, blocks, charts."""
