"""The pipeline: printed tables go in as text with their source, one checked database comes out."""
