"""Pure comparers, one module per kind of question: a stored key and an answer give a mark."""
