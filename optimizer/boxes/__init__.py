"""A balanced tree of boxes over triangles, for whoever asks of very many where they lie."""
